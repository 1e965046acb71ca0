// Package datasets makes the demo squad: an invented club's watch files, lane
// sheets, heart-rate logs and lists, with the truth behind them. Its sub-packages
// hold the simulator (squad) and the writers (activityfile, deckfile).
//
// Nothing here imports the pipeline: these packages are the world outside, on
// which the pipeline is judged.
package datasets
