package evidence

import (
	"archive/zip"
	"bytes"
	"fmt"
	"time"
)

// Zip packs files in their order, without clocks: the same files give the same
// bytes.
func Zip(files []File) ([]byte, error) {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, f := range files {
		// 1 January 1980 is the first day that the format knows.
		header := &zip.FileHeader{Name: f.Name, Method: zip.Deflate, Modified: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)}
		header.SetMode(0o644)
		to, err := w.CreateHeader(header)
		if err == nil {
			_, err = to.Write(f.Data)
		}
		if err != nil {
			return nil, fmt.Errorf("zip: %s: %w", f.Name, err)
		}
	}
	if err := w.Close(); err != nil {
		return nil, fmt.Errorf("zip: %w", err)
	}
	return b.Bytes(), nil
}
