package run

import (
	"context"
	"errors"
	"slices"

	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// SheetWords is what was understood of sheets, in words: of the first by its rows,
// and of the others of which the same is said of the table as a whole. It holds
// names and paths, and is for the terminal alone.
type SheetWords struct {
	Files []string `json:"files"`
	Table []string `json:"table"`
	Rows  []string `json:"rows"` // the first of the first file
}

// understood reads the first rows of every sheet again for their words. A sheet
// that cannot be read as one is in the ledger, not here.
func (src *Sources) understood(ctx context.Context, s *study.Study, rows int) ([]SheetWords, error) {
	files, err := s.Find()
	if err != nil {
		return nil, err
	}
	var out []SheetWords
	for _, f := range files.Found {
		in := s.Inputs[f.Input]
		if in.Kind != study.Sheet {
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, errors.Join(err, files.Close())
		}
		u, err := src.understand(ctx, f, sheetSource(src.Registry, in, f, s, ""), rows)
		if err != nil {
			continue // said already
		}
		if i := slices.IndexFunc(out, func(w SheetWords) bool { return slices.Equal(w.Table, u.Table) }); i >= 0 {
			out[i].Files = append(out[i].Files, f.Rel)
			continue
		}
		out = append(out, SheetWords{Files: []string{f.Rel}, Table: u.Table, Rows: u.Rows})
	}
	return out, files.Close()
}

// understand reads one sheet for its words, in parts if it is long.
func (src *Sources) understand(ctx context.Context, f study.Found, source read.SheetSource, rows int) (read.Understood, error) {
	how := src.reader.how
	long, err := f.LongerThan(how.longFrom)
	if err != nil {
		return read.Understood{}, err
	}
	if !long {
		data, err := f.Read()
		if err != nil {
			return read.Understood{}, err
		}
		return read.UnderstandSheet(data, source, rows)
	}
	room, err := hiddenFile()
	if err != nil {
		return read.Understood{}, err
	}
	u, err := read.UnderstandLongSheet(ctx, f.Open, source, read.LongSheetOptions{Room: room, Workers: how.workers, Zones: how.zones}, rows)
	return u, errors.Join(err, letGo(room))
}

// sheetSource is how a sheet or a heart-rate log is read.
func sheetSource(registry *identity.Registry, in study.Input, f study.Found, s *study.Study, content string) read.SheetSource {
	return read.SheetSource{FileID: registry.FileID(f.Rel), Input: in, Zone: s.TimeZone, Content: content,
		Owner: registry.ByName, FileOwner: registry.ByFile(f.Swimmer, f.Rel, "")}
}
