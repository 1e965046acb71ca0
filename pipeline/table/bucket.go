package table

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
)

// Buckets is the number of files that a table partitioned by swimmer is cut
// into. It is fixed, so that a swimmer's rows stay in one file whoever else is
// in the study.
const Buckets = 64

// Bucket gives the bucket, 0 to 63, of a swimmer's rows: the first byte of the
// SHA-256 of the swimmer's id, modulo 64. It never changes.
func Bucket(swimmer string) int {
	sum := sha256.Sum256([]byte(swimmer))
	return int(sum[0]) % Buckets
}

// BucketFile names the file of one bucket of a table, with forward slashes and
// relative to the folder of the tables: heart_rate/bucket-07.parquet.
func BucketFile(table string, bucket int) string {
	return path.Join(table, fmt.Sprintf("bucket-%02d.parquet", bucket))
}

// TableFile names the file of a table that is one file, relative to the folder
// of the tables.
func TableFile(table string) string { return table + ".parquet" }

// Paths finds the files of a table in the folder of the tables: its one file,
// or its bucket files that are there, in order. A table with neither gives an
// error that wraps fs.ErrNotExist.
func Paths(dir, table string) ([]string, error) {
	whole := filepath.Join(dir, TableFile(table))
	switch _, err := os.Stat(whole); {
	case err == nil:
		return []string{whole}, nil
	case !errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("looking for the table %q: %w", table, err)
	}
	var paths []string
	for bucket := range Buckets {
		p := filepath.Join(dir, filepath.FromSlash(BucketFile(table, bucket)))
		switch _, err := os.Stat(p); {
		case err == nil:
			paths = append(paths, p)
		case !errors.Is(err, fs.ErrNotExist):
			return nil, fmt.Errorf("looking for the table %q: %w", table, err)
		}
	}
	if len(paths) == 0 {
		return nil, fmt.Errorf("the table %q is not in %s: %w", table, dir, fs.ErrNotExist)
	}
	return paths, nil
}

// OpenTable opens a table in the folder of the tables by its name, bucket
// files together.
func OpenTable(dir, table string) (*File, error) {
	paths, err := Paths(dir, table)
	if err != nil {
		return nil, err
	}
	return Open(paths...)
}
