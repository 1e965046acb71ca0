package identity

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"runtime"
)

// keyBytes is the length of a new key, shortestKey that of the shortest that
// is taken: the output of SHA-256, and half of it.
const (
	keyBytes    = 32
	shortestKey = 16
)

// LoadKey reads a key file made by CreateKey. A file that others may read is
// refused, for a key that has been seen protects nobody.
func LoadKey(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("key file %s is missing: bring the one this study was made with, or make one with lengthwise init: %w", path, err)
	}
	if err != nil {
		return nil, fmt.Errorf("key file: %w", err)
	}
	if !info.Mode().IsRegular() || info.Size() > 1024 {
		return nil, fmt.Errorf("key file %s holds no key: expected one line of %d hexadecimal digits", path, 2*keyBytes)
	}
	// Windows has no such permissions to look at.
	if mode := info.Mode().Perm(); runtime.GOOS != "windows" && mode&0o077 != 0 {
		return nil, fmt.Errorf("key file %s can be read by others (mode %04o): run chmod 600 on it; if it was shared, make a new one", path, mode)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("key file: %w", err)
	}
	key := make([]byte, hex.DecodedLen(len(bytes.TrimSpace(data))))
	if _, err := hex.Decode(key, bytes.TrimSpace(data)); err != nil || len(key) < shortestKey {
		// The error of hex would show a piece of the key.
		return nil, fmt.Errorf("key file %s holds no key: expected one line of %d hexadecimal digits", path, 2*keyBytes)
	}
	return key, nil
}

// CreateKey writes a new random key for its owner's eyes only. It never
// overwrites: with an existing file the error wraps fs.ErrExist.
func CreateKey(path string) error {
	key := make([]byte, keyBytes)
	if _, err := rand.Read(key); err != nil {
		return fmt.Errorf("making a key: %w", err)
	}
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("key file %s exists and is kept: a new key would change every pseudonym: %w", path, err)
	}
	if err != nil {
		return fmt.Errorf("making a key file: %w", err)
	}
	_, err = file.WriteString(hex.EncodeToString(key) + "\n")
	err = errors.Join(err, file.Sync(), file.Close())
	if err != nil {
		return errors.Join(fmt.Errorf("writing key file %s: %w", path, err), os.Remove(path))
	}
	return nil
}
