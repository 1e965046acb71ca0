package wire

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"reflect"
)

// Shape is a fingerprint of a type: its fields' names and types to the last one, in
// order. Bytes of a type can be read by a type of the same shape.
func Shape[T any]() string {
	sum := sha256.New()
	shape(sum, reflect.TypeFor[T](), nil)
	return hex.EncodeToString(sum.Sum(nil))[:32]
}

func shape(w io.Writer, t reflect.Type, within []reflect.Type) {
	for _, outer := range within {
		if outer == t {
			fmt.Fprintf(w, "again %s;", t)
			return
		}
	}
	within = append(within[:len(within):len(within)], t)
	fmt.Fprintf(w, "%s %s", t.Kind(), t)
	switch t.Kind() {
	case reflect.Array:
		fmt.Fprintf(w, "%d", t.Len())
		shape(w, t.Elem(), within)
	case reflect.Pointer, reflect.Slice:
		shape(w, t.Elem(), within)
	case reflect.Map:
		shape(w, t.Key(), within)
		shape(w, t.Elem(), within)
	case reflect.Struct:
		for i := range t.NumField() {
			fmt.Fprintf(w, "{%s ", t.Field(i).Name)
			shape(w, t.Field(i).Type, within)
			fmt.Fprint(w, "}")
		}
	}
	fmt.Fprint(w, ";")
}
