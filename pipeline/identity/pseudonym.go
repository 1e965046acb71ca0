package identity

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"fmt"
	"slices"
)

// letters is the base-32 alphabet of ids: Crockford's, in lower case, which
// leaves out i, l, o and u so that no sign is taken for another.
const letters = "0123456789abcdefghjkmnpqrstvwxyz"

// The kinds of id. Each has a hash of its own, so that a file called like a
// swimmer tells nothing.
const (
	swimmerKind = "swimmer"
	fileKind    = "file"
	deviceKind  = "device"
)

// ErrCollision means that two different swimmers, files or recorders got the
// same id.
var ErrCollision = errors.New("two different things share one id")

// encoder shortens keyed hashes to ids.
type encoder struct {
	key                   []byte
	swimmer, file, device int // characters of an id
}

// newEncoder sets the lengths of ids: 40 bits for swimmers (among 400 the
// chance that any two collide is 7 in 100 million), 50 bits for files and
// recorders.
func newEncoder(key []byte) encoder {
	return encoder{key: slices.Clone(key), swimmer: 8, file: 10, device: 10}
}

// id is prefix and the first n characters of HMAC-SHA-256(key, kind 0x00 text)
// in base 32.
func (e encoder) id(kind, prefix string, n int, text string) string {
	mac := hmac.New(sha256.New, e.key)
	mac.Write([]byte(kind))
	mac.Write([]byte{0})
	mac.Write([]byte(text))
	code := base32.NewEncoding(letters).WithPadding(base32.NoPadding)
	return prefix + code.EncodeToString(mac.Sum(nil))[:n]
}

// collision is ErrCollision with the kind of thing and the id.
func collision(kind, id string) error {
	return fmt.Errorf("%s id %s: %w; a new key file gives new ids", kind, id, ErrCollision)
}
