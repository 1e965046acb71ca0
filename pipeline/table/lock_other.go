//go:build !windows && (!unix || aix || solaris)

package table

import (
	"errors"
	"fmt"
	"os"
	"runtime"
)

// tryLock refuses: a lock that outlives a dead run would be worse than none.
func tryLock(*os.File) error {
	return fmt.Errorf("%s has no file lock that ends with its process: %w", runtime.GOOS, errors.ErrUnsupported)
}
