package main

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lengthwise/pipeline/publish"
	"lengthwise/pipeline/run"
	"lengthwise/pipeline/simulated"
	"lengthwise/pipeline/table"
	"lengthwise/pipeline/trial"
	"lengthwise/schemas"
)

// simulateOptions are the flags of simulate.
type simulateOptions struct {
	squads int
	seed   uint64
	cells  []string
	kept   bool
}

func newSimulate(c *common) *cobra.Command {
	var o simulateOptions
	cmd := &cobra.Command{
		Use:   "simulate [FOLDER]",
		Short: "try the method on squads whose truth is known",
		Long: `Simulate squads of known truth, send them through the study's own stages, and
say how every estimator did: how far off it is, how often its 95 % intervals
hold the truth, how often it finds an effect that is there, claims its opposite,
or claims one where there is none. Sizes, effects, spreads of stroke rate, noise,
tiredness, counting errors, sources of heart rate and gaps are changed one at a
time. Into FOLDER go the table (CSV and Parquet) and a page.

A first look takes ten seconds or twenty. The table that the program carries, which a
study's page cites, was made with 200 squads of each kind: --kept shows it.

Bouts that swimmers swam as they liked can mislead when tiredness moves stroke
rate and heart rate together: those rows are told as they are.

Exit codes: 0 done; 1 failed; 2 wrong usage; 130 interrupted.`,
		Example: `  lengthwise simulate trial
  lengthwise simulate --kept trial
  lengthwise simulate --squads 200 --cell set-usual-0 --cell set-usual-3`,
		Args: arguments(cobra.MaximumNArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			cells, err := o.chosen()
			if err != nil {
				return usageError{err}
			}
			rows, err := c.simulate(cmd.Context(), cmd, o, cells)
			if err != nil {
				return err
			}
			if len(args) > 0 {
				folder := args[0]
				if !filepath.IsAbs(folder) {
					folder = filepath.Join(c.folder, folder)
				}
				if err := writeSimulation(folder, rows, o); err != nil {
					return err
				}
				defer c.say("\nTable: %s\nPage:  %s", filepath.Join(folder, simulationMarker), filepath.Join(folder, "index.html"))
			}
			if c.json {
				encoder := json.NewEncoder(c.stdout)
				encoder.SetIndent("", "  ")
				return encoder.Encode(rows)
			}
			for _, line := range simulationLines(rows) {
				fmt.Fprintln(c.stdout, line)
			}
			return nil
		},
	}
	f := cmd.Flags()
	f.IntVar(&o.squads, "squads", 5, "squads of each kind, of dear ones fewer")
	f.Uint64Var(&o.seed, "seed", 1, "of the squads")
	f.StringArrayVar(&o.cells, "cell", nil, "this kind of squad alone; may be given again; all unless told")
	f.BoolVar(&o.kept, "kept", false, "show the table that the program carries")
	return cmd
}

// chosen are the kinds of squads asked for.
func (o simulateOptions) chosen() ([]trial.Cell, error) {
	if o.squads < 2 || o.squads > 100_000 {
		return nil, fmt.Errorf("--squads %d: from 2 to 100000", o.squads)
	}
	grid := trial.Grid()
	if len(o.cells) == 0 {
		return grid, nil
	}
	var chosen []trial.Cell
	for _, name := range o.cells {
		at := slices.IndexFunc(grid, func(c trial.Cell) bool { return c.Name == name })
		if at < 0 {
			var names []string
			for _, c := range grid {
				names = append(names, c.Name)
			}
			return nil, fmt.Errorf("--cell %q: there are %s", name, strings.Join(names, ", "))
		}
		chosen = append(chosen, grid[at])
	}
	return chosen, nil
}

func (c *common) simulate(ctx context.Context, cmd *cobra.Command, o simulateOptions, cells []trial.Cell) ([]schemas.Simulation, error) {
	if o.kept {
		rows, err := simulated.Rows()
		return slices.DeleteFunc(slices.Clone(rows), func(r schemas.Simulation) bool {
			return !slices.ContainsFunc(cells, func(cell trial.Cell) bool { return cell.Name == r.Cell })
		}), err
	}
	progress := c.progress()
	report := progress.report()
	var told func(done, total int)
	if report != nil {
		told = func(done, total int) { report("squads", done, total) }
	}
	rows, err := trial.Simulate(ctx, cells, o.squads, c.planWorkers(cmd), o.seed, told)
	progress.clear()
	return rows, err
}

// simulationMarker tells a folder of ours.
const simulationMarker = "simulation.csv"

// writeSimulation writes table and page, all or nothing.
func writeSimulation(folder string, rows []schemas.Simulation, o simulateOptions) error {
	data, err := simulated.CSV(rows)
	if err != nil {
		return err
	}
	squads := fmt.Sprintf("Up to %d squads of each kind, seed %d.", o.squads, o.seed)
	if o.kept {
		squads = "The table that the program carries: up to 200 squads of each kind."
	}
	page, err := publish.SimulationPage(rows, squads, run.Version)
	if err != nil {
		return err
	}
	stage, err := table.Begin(folder, simulationMarker)
	if err != nil {
		return err
	}
	defer stage.Abort()
	d := schemas.Description{Name: "simulation", About: "how every estimator did on squads of known truth", Keys: []string{"cell", "estimator"}, Row: schemas.Simulation{}}
	if _, err := table.StageTable(stage, "simulation.parquet", d, rows); err != nil {
		return err
	}
	if err := stage.WriteFile("index.html", page); err != nil {
		return err
	}
	if err := stage.WriteFile(simulationMarker, data); err != nil {
		return err
	}
	return stage.Commit()
}

// simulationLines is the table at 80 columns.
func simulationLines(rows []schemas.Simulation) []string {
	lines := []string{fmt.Sprintf("%-20s %-13s %5s %7s %6s %6s %6s %6s", "squads", "estimator", "n", "off by", "holds", "finds", "wrong", "false")}
	number := func(p *float64, format string) string {
		if p == nil {
			return ""
		}
		return fmt.Sprintf(format, *p)
	}
	for _, r := range rows {
		lines = append(lines, strings.TrimRight(fmt.Sprintf("%-20s %-13s %5d %7s %6s %6s %6s %6s", r.Cell, r.Estimator, r.N, number(r.Bias, "%+.2f"),
			number(r.CoveragePct, "%.1f"), number(r.FoundPct, "%.1f"), number(r.WrongPct, "%.1f"), number(r.FalsePct, "%.1f")), " "))
	}
	return append(lines, "", "off by: mean of estimate less truth, bpm; the others in %: intervals that hold",
		"the truth, effects found, opposites claimed, claims where nothing is there.")
}
