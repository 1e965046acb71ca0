// Package deckfile writes the CSV files that are kept on a pool deck: lane sheets
// with a row a repeat, a row a length or a row a swimmer, heart-rate logs, and the
// roster, assign and notes files of a study. Rows come from simulated sessions.
package deckfile
