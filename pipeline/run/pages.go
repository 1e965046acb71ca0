package run

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"lengthwise/pipeline/publish"
	"lengthwise/pipeline/study"
)

// pagesFolder is where the pages are, within a result and within the private
// folder.
const pagesFolder = "pages"

// pageFile is the squad's page within a result.
const pageFile = pagesFolder + "/index.html"

// pages makes the squad's page, that of the method and each swimmer's, and hands them to write by
// path; write is called by several goroutines at once.
func pages(ctx context.Context, r *Result, s *study.Study, name func(string) string, o Options, write func(path string, html []byte) error) error {
	in := pageInput(r, s, name)
	own := rowsBySwimmer(r)
	first := []struct {
		path string
		make func(publish.PageInput) ([]byte, error)
	}{{pageFile, publish.Page}, {pagesFolder + "/" + publish.MethodPath, publish.MethodPage}}
	return each(ctx, len(first)+len(r.Swimmers), o, PagesPhase, func(i int) error {
		if i < len(first) {
			html, err := first[i].make(in)
			if err != nil {
				return err
			}
			return write(first[i].path, html)
		}
		swimmer := r.Swimmers[i-len(first)].Swimmer
		html, err := publish.SwimmerPage(in, *own[swimmer])
		if err != nil {
			return err
		}
		return write(pagesFolder+"/"+publish.SwimmerPath(swimmer), html)
	})
}

func pageInput(r *Result, s *study.Study, name func(string) string) publish.PageInput {
	return publish.PageInput{
		Study: s, Version: Version, BySwimmer: r.Answers.BySwimmer, Overall: r.Answers.Overall, Swimmers: r.Swimmers,
		ByRate: r.Answers.ByRate, Sensitivity: r.Answers.Sensitivity, Findings: r.Findings, Bouts: r.Counts, Ledger: r.Rules, Accounts: r.Accounts, SwimmerPages: true, Name: name,
	}
}

// rowsBySwimmer deals the rows out to the swimmers' pages.
func rowsBySwimmer(r *Result) map[string]*publish.SwimmerRows {
	own := make(map[string]*publish.SwimmerRows, len(r.Swimmers))
	for _, s := range r.Swimmers {
		own[s.Swimmer] = &publish.SwimmerRows{Swimmer: s.Swimmer, Bouts: r.BySwimmer[s.Swimmer]}
	}
	for _, row := range r.Answers.Economical {
		if to, ok := own[row.Swimmer]; ok {
			to.Economical = append(to.Economical, row)
		}
	}
	for _, row := range r.Answers.ByRate {
		if to, ok := own[row.Swimmer]; ok {
			to.CostByRate = append(to.CostByRate, row)
		}
	}
	for _, row := range r.Answers.HeartCosts {
		if to, ok := own[row.Swimmer]; ok {
			to.HeartCost = append(to.HeartCost, row)
		}
	}
	for _, row := range r.Answers.Reliability {
		if to, ok := own[row.Swimmer]; ok {
			to.Reliability = append(to.Reliability, row)
		}
	}
	for _, row := range r.Ledger {
		if row.Swimmer == nil {
			continue
		}
		if to, ok := own[*row.Swimmer]; ok {
			to.Ledger = append(to.Ledger, row)
		}
	}
	return own
}

// writePrivatePages writes the pages with names, and removes those of swimmers
// who are no longer in the study.
func writePrivatePages(ctx context.Context, s *study.Study, r *Result, o Options) error {
	written := map[string]bool{}
	for _, swimmer := range r.Swimmers {
		written[filepath.Base(publish.SwimmerPath(swimmer.Swimmer))] = true
	}
	folder := filepath.Join(s.Folder, study.PrivateFolder, pagesFolder, "swimmers")
	entries, err := os.ReadDir(folder)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	for _, entry := range entries {
		if !written[entry.Name()] {
			if err := os.Remove(filepath.Join(folder, entry.Name())); err != nil {
				return err
			}
		}
	}
	return pages(ctx, r, s, r.Name, o, func(path string, html []byte) error { return writePrivate(s, path, html) })
}
