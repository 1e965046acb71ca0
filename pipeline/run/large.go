package run

import (
	"context"
	"errors"
	"fmt"

	"golang.org/x/sync/errgroup"

	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// largeTables is the sink that writes the large tables as their rows come.
type largeTables struct {
	to        *writer
	lengths   *staged[schemas.Length]
	lineage   *staged[schemas.Lineage]
	boutRows  *staged[schemas.Bout]
	heartRate *staged[schemas.HeartRate] // of the bucket whose swimmers come
	bucket    int
	written   int // buckets of heart rates
}

// staged is one file of a table that is being written.
type staged[T any] struct {
	name, path string
	rows       *table.Staged[T]
}

func begin[T any](w *writer, name, file string) (*staged[T], error) {
	d, err := description(name)
	if err != nil {
		return nil, err
	}
	path := tablesFolder + "/" + file
	rows, err := table.StageRows[T](w.stage, path, d)
	if err != nil {
		return nil, fmt.Errorf("table %s: %w", name, err)
	}
	return &staged[T]{name, path, rows}, nil
}

func (s *staged[T]) write(rows []T) error {
	if err := s.rows.Write(rows); err != nil {
		return fmt.Errorf("table %s: %w", s.name, err)
	}
	return nil
}

// end makes the file durable, reads it back and notes it.
func (s *staged[T]) end(w *writer) error {
	digest, err := s.rows.Close()
	if err != nil {
		return fmt.Errorf("table %s: %w", s.name, err)
	}
	w.wrote(s.name, s.path, digest)
	return nil
}

// large opens the large tables.
func (w *writer) large() (*largeTables, error) {
	t := &largeTables{to: w, bucket: -1}
	var errs [3]error
	t.lengths, errs[0] = begin[schemas.Length](w, "lengths", table.TableFile("lengths"))
	t.lineage, errs[1] = begin[schemas.Lineage](w, "lineage", table.TableFile("lineage"))
	t.boutRows, errs[2] = begin[schemas.Bout](w, "bouts", table.TableFile("bouts"))
	return t, errors.Join(errs[:]...)
}

func (t *largeTables) fit(bucket int, rows fitRows) error {
	if err := errors.Join(t.lengths.write(rows.Lengths), t.lineage.write(rows.Lineage)); err != nil {
		return err
	}
	if len(rows.HeartRate) == 0 {
		return nil
	}
	if t.heartRate == nil || bucket != t.bucket { // swimmers come bucket by bucket
		if err := t.nextBucket(bucket); err != nil {
			return err
		}
	}
	return t.heartRate.write(rows.HeartRate)
}

// nextBucket ends the file of heart rates that is open and begins another.
func (t *largeTables) nextBucket(bucket int) error {
	if t.heartRate != nil {
		if err := t.heartRate.end(t.to); err != nil {
			return err
		}
	}
	var err error
	t.heartRate, err = begin[schemas.HeartRate](t.to, "heart_rate", table.BucketFile("heart_rate", bucket))
	t.bucket = bucket
	t.written++
	return err
}

func (t *largeTables) bouts(rows []schemas.Bout) error { return t.boutRows.write(rows) }

// abandon closes all files of a run that failed; what they hold goes with the
// stage.
func (t *largeTables) abandon() error {
	err := errors.Join(t.lengths.rows.Abandon(), t.lineage.rows.Abandon(), t.boutRows.rows.Abandon())
	if t.heartRate != nil {
		err = errors.Join(err, t.heartRate.rows.Abandon())
	}
	return err
}

// close ends all files. A table without rows still has its columns.
func (t *largeTables) close(ctx context.Context) error {
	if t.written == 0 {
		if err := t.nextBucket(0); err != nil {
			return err
		}
	}
	group, _ := errgroup.WithContext(ctx)
	group.SetLimit(2) // files are read back whole
	for _, end := range []func(*writer) error{t.lengths.end, t.lineage.end, t.boutRows.end, t.heartRate.end} {
		group.Go(func() error { return end(t.to) })
	}
	return group.Wait()
}
