package table

import (
	"bufio"
	"fmt"
	"io"

	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

const (
	// largestHeader bounds the header of a page, with the least and greatest values
	// that it may hold; largestPage what a page may say it comes to unpacked. Pages
	// that this package writes stay under a few MB.
	largestHeader = 1 << 20
	largestPage   = 256 << 20
)

// checkPages goes through the headers of all pages and compares the sizes they state
// with the room there is: the library would make room for any, up to 2 GB a page,
// before it found out.
func checkPages(r io.ReaderAt, size int64, groups []format.RowGroup) error {
	in := bufio.NewReaderSize(nil, 4096)
	for g := range groups {
		for c := range groups[g].Columns {
			meta := &groups[g].Columns[c].MetaData
			at := meta.DataPageOffset
			if meta.DictionaryPageOffset > 0 && meta.DictionaryPageOffset < at {
				at = meta.DictionaryPageOffset
			}
			end := at + meta.TotalCompressedSize
			if at < 4 || end < at || end > size {
				return fmt.Errorf("row group %d, column %d: pages from byte %d to %d of %d", g+1, c+1, at, end, size)
			}
			for page := 1; at < end; page++ {
				header, length, err := pageHeader(in, r, at, min(end, at+largestHeader))
				if err != nil {
					return fmt.Errorf("row group %d, column %d, page %d: its header: %w", g+1, c+1, page, err)
				}
				packed, unpacked := int64(header.CompressedPageSize), int64(header.UncompressedPageSize)
				if at += length; packed < 0 || unpacked < 0 || packed > end-at || unpacked > largestPage {
					return fmt.Errorf("row group %d, column %d, page %d: %d bytes, %d unpacked, where there are %d", g+1, c+1, page, packed, unpacked, end-at)
				}
				at += packed
			}
		}
	}
	return nil
}

// pageHeader reads the header at a place, and says how long it is.
func pageHeader(in *bufio.Reader, r io.ReaderAt, at, end int64) (header format.PageHeader, length int64, err error) {
	section := io.NewSectionReader(r, at, end-at)
	in.Reset(section)
	protocol := thrift.CompactProtocol{}
	if err = thrift.NewDecoder(protocol.NewReader(in)).Decode(&header); err != nil {
		return header, 0, err
	}
	read, err := section.Seek(0, io.SeekCurrent)
	return header, read - int64(in.Buffered()), err
}
