package table

import (
	"errors"
	"fmt"

	"golang.org/x/sys/unix"
)

// exchange lets two folders change places in one step. It returns
// [errors.ErrUnsupported] where the file system cannot.
func exchange(a, b string) error {
	err := unix.Renameat2(unix.AT_FDCWD, a, unix.AT_FDCWD, b, unix.RENAME_EXCHANGE)
	if errors.Is(err, unix.EINVAL) || errors.Is(err, unix.ENOSYS) {
		return errors.ErrUnsupported
	}
	if err != nil {
		return fmt.Errorf("changing places of %s and %s: %w", a, b, err)
	}
	return nil
}
