//go:build !linux && !darwin

package table

import "errors"

// exchange is not to be had on this system.
func exchange(string, string) error { return errors.ErrUnsupported }
