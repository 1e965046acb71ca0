package table

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
)

// StagedJoin is a table of the result that is being joined from pieces.
type StagedJoin struct {
	stage *Stage
	rel   string
	file  io.WriteCloser
	join  *Joiner
}

// StageJoin begins a table of the result that is joined from pieces, each of which
// was read back when it was made. The caller ends it with Close.
func StageJoin(s *Stage, rel string) (*StagedJoin, error) {
	file, err := s.Create(rel)
	if err != nil {
		return nil, err
	}
	return &StagedJoin{stage: s, rel: rel, file: file, join: NewJoiner(file)}, nil
}

// Add adds a piece; see [Joiner.Add]. A failure keeps the stage from being committed.
func (t *StagedJoin) Add(p Piece) error {
	if err := t.join.Add(p); err != nil {
		return t.stage.fail(fmt.Errorf("%s: %w", t.rel, err))
	}
	return nil
}

// Abandon closes the file of a table that will not be finished; the stage cannot
// be committed any more.
func (t *StagedJoin) Abandon() error {
	t.stage.fail(fmt.Errorf("%s was not finished", t.rel))
	return t.file.Close()
}

// Close finishes the table, reads its bytes back, and the headers of its pages,
// and compares them with what was meant.
func (t *StagedJoin) Close() (Digest, error) {
	digest, err := t.join.Close()
	if err = errors.Join(err, t.file.Close()); err != nil {
		return Digest{}, t.stage.fail(fmt.Errorf("%s: %w", t.rel, err))
	}
	if err := sameBytes(t.stage.Path(t.rel), digest); err != nil {
		return Digest{}, t.stage.fail(err)
	}
	return digest, nil
}

// sameBytes reads a file back as bytes and opens it.
func sameBytes(path string, want Digest) error {
	raw, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("reading a table back: %w", err)
	}
	sum := sha256.New()
	n, err := io.Copy(sum, raw)
	if err = errors.Join(err, raw.Close()); err != nil {
		return fmt.Errorf("reading a table back: %s: %w", path, err)
	}
	if got := hex.EncodeToString(sum.Sum(nil)); got != want.SHA256 || n != want.Bytes {
		return fmt.Errorf("%s: read back: %d bytes, SHA-256 %s, instead of %d, %s", path, n, got, want.Bytes, want.SHA256)
	}
	f, err := Open(path)
	if err != nil {
		return fmt.Errorf("read back: %w", err)
	}
	if f.Rows() != want.Rows {
		err = fmt.Errorf("%s: read back: %d rows instead of %d", path, f.Rows(), want.Rows)
	}
	return errors.Join(err, f.Close())
}
