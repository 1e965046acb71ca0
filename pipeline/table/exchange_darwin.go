package table

import (
	"errors"
	"fmt"

	"golang.org/x/sys/unix"
)

// exchange lets two folders change places in one step. It returns
// [errors.ErrUnsupported] where the file system cannot.
func exchange(a, b string) error {
	err := unix.RenamexNp(a, b, unix.RENAME_SWAP)
	if errors.Is(err, unix.EINVAL) || errors.Is(err, unix.ENOTSUP) || errors.Is(err, unix.ENOSYS) {
		return errors.ErrUnsupported
	}
	if err != nil {
		return fmt.Errorf("changing places of %s and %s: %w", a, b, err)
	}
	return nil
}
