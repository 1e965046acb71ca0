package run

import (
	"context"
	"errors"
	"fmt"

	"golang.org/x/sync/errgroup"

	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// largeTables is the sink that joins the large tables from the files of buckets.
type largeTables struct {
	to                         *writer
	lengths, lineage, boutRows *joined
	heartRates                 int // files of heart rates
}

// joined is one file of a table that is being joined.
type joined struct {
	name, path string
	file       *table.StagedJoin
	pieces     int
}

func (w *writer) join(name, file string) (*joined, error) {
	path := tablesFolder + "/" + file
	staged, err := table.StageJoin(w.stage, path)
	if err != nil {
		return nil, fmt.Errorf("table %s: %w", name, err)
	}
	return &joined{name: name, path: path, file: staged}, nil
}

// add adds a bucket's rows; nil is none.
func (j *joined) add(p *table.Piece) error {
	if p == nil {
		return nil
	}
	j.pieces++
	if err := j.file.Add(*p); err != nil {
		return fmt.Errorf("table %s: %w", j.name, err)
	}
	return nil
}

// end finishes the file, reads it back and notes it. A table without rows still
// has its columns.
func end[T any](j *joined, w *writer) error {
	if j.pieces == 0 {
		none, err := emptyPiece[T](j.name)
		if err != nil {
			return err
		}
		if err := j.add(&none); err != nil {
			return err
		}
	}
	digest, err := j.file.Close()
	if err != nil {
		return fmt.Errorf("table %s: %w", j.name, err)
	}
	w.wrote(j.name, j.path, digest)
	return nil
}

// large opens the large tables.
func (w *writer) large() (*largeTables, error) {
	t := &largeTables{to: w}
	var errs [3]error
	t.lengths, errs[0] = w.join("lengths", table.TableFile("lengths"))
	t.lineage, errs[1] = w.join("lineage", table.TableFile("lineage"))
	t.boutRows, errs[2] = w.join("bouts", table.TableFile("bouts"))
	return t, errors.Join(errs[:]...)
}

func (t *largeTables) measured(b *bucket, m *measuredTables) error {
	if err := errors.Join(t.lengths.add(m.lengths), t.lineage.add(m.lineage)); err != nil || m.heartRate == nil {
		return err
	}
	return t.heartRate(b.number, m.heartRate)
}

// heartRate writes a bucket's file of heart rates.
func (t *largeTables) heartRate(bucket int, p *table.Piece) error {
	file, err := t.to.join("heart_rate", table.BucketFile("heart_rate", bucket))
	if err != nil {
		return err
	}
	t.heartRates++
	if err := file.add(p); err != nil {
		return errors.Join(err, file.file.Abandon())
	}
	return end[schemas.HeartRate](file, t.to)
}

func (t *largeTables) answered(_ *bucket, a *boutTable) error { return t.boutRows.add(a.piece) }

// abandon closes all files of a run that failed; what they hold goes with the
// stage.
func (t *largeTables) abandon() error {
	return errors.Join(t.lengths.file.Abandon(), t.lineage.file.Abandon(), t.boutRows.file.Abandon())
}

// close ends all files.
func (t *largeTables) close(ctx context.Context) error {
	if t.heartRates == 0 {
		none, err := emptyPiece[schemas.HeartRate]("heart_rate")
		if err != nil {
			return err
		}
		if err := t.heartRate(0, &none); err != nil {
			return err
		}
	}
	group, _ := errgroup.WithContext(ctx)
	group.Go(func() error { return end[schemas.Length](t.lengths, t.to) })
	group.Go(func() error { return end[schemas.Lineage](t.lineage, t.to) })
	group.Go(func() error { return end[schemas.Bout](t.boutRows, t.to) })
	return group.Wait()
}
