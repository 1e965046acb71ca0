package study

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"

	"go.yaml.in/yaml/v3"
)

// decoder walks the nodes of a study file, sets fields and collects what is
// wrong. It remembers where each setting stands, for the checks that need
// more than one.
type decoder struct {
	problems *Problems
	lines    map[string]int // dotted key -> line
}

// reader sets one field from a node; key is the dotted path for messages.
type reader func(node *yaml.Node, key string)

// field is a key of a mapping and its reader.
type field struct {
	name string
	read reader
}

func (d *decoder) fail(node *yaml.Node, key, format string, args ...any) {
	d.problems.add(node.Line, key, format, args...)
}

// follow resolves an alias to its anchor.
func follow(node *yaml.Node) *yaml.Node {
	for range 100 {
		if node.Kind != yaml.AliasNode || node.Alias == nil {
			break
		}
		node = node.Alias
	}
	return node
}

// empty reports a key without a value, which leaves the default.
func empty(node *yaml.Node) bool { return node.Kind == yaml.ScalarNode && node.Tag == "!!null" }

// mapping reads the keys of a mapping, each once and each known.
func (d *decoder) mapping(node *yaml.Node, key string, fields []field) {
	node = follow(node)
	if empty(node) {
		return
	}
	if node.Kind != yaml.MappingNode {
		d.fail(node, key, "must hold settings, one a line, as name: value")
		return
	}
	names := make([]string, len(fields))
	for i, f := range fields {
		names[i] = f.name
	}
	d.pairs(node, key, func(name string, at, value *yaml.Node, full string) {
		for _, f := range fields {
			if f.name == name {
				if value = follow(value); !empty(value) {
					f.read(value, full)
				}
				return
			}
		}
		d.fail(at, key, "unknown key %s; %s", shown(name), hint(name, names))
	})
}

// pairs calls visit for each key of a mapping but those written twice.
func (d *decoder) pairs(node *yaml.Node, key string, visit func(name string, at, value *yaml.Node, full string)) {
	first := map[string]int{}
	for i := 0; i+1 < len(node.Content); i += 2 {
		at, value := node.Content[i], node.Content[i+1]
		name := follow(at).Value
		if follow(at).Kind != yaml.ScalarNode {
			d.fail(at, key, "a key must be a plain word")
			continue
		}
		if line, twice := first[name]; twice {
			d.fail(at, key, "key %s is already given on line %d; keep one", shown(name), line)
			continue
		}
		first[name] = at.Line
		full := name
		if key != "" {
			full = key + "." + name
		}
		d.lines[full] = at.Line
		visit(name, at, value, full)
	}
}

// sequence reads each element of a list.
func (d *decoder) sequence(each func(i int, node *yaml.Node, key string)) reader {
	return func(node *yaml.Node, key string) {
		if node.Kind != yaml.SequenceNode {
			d.fail(node, key, "must be a list, such as [a, b]")
			return
		}
		for i, item := range node.Content {
			full := fmt.Sprintf("%s[%d]", key, i+1)
			d.lines[full] = item.Line
			item = follow(item)
			if empty(item) {
				d.fail(item, full, "is empty")
				continue
			}
			each(i, item, full)
		}
	}
}

// scalar gives the text of a single value.
func (d *decoder) scalar(node *yaml.Node, key string) (string, bool) {
	if node.Kind != yaml.ScalarNode {
		d.fail(node, key, "must be a single value")
		return "", false
	}
	return node.Value, true
}

// text reads a line of text without control characters.
func (d *decoder) text(into *string) reader {
	return func(node *yaml.Node, key string) {
		value, ok := d.scalar(node, key)
		switch {
		case !ok:
		case strings.TrimSpace(value) == "":
			d.fail(node, key, "is empty; complete it, or take it out")
		case strings.ContainsFunc(value, unicode.IsControl):
			d.fail(node, key, "must be one line of text")
		default:
			*into = value
		}
	}
}

// oneOf reads one of the given words.
func (d *decoder) oneOf(set func(string), words ...string) reader {
	return func(node *yaml.Node, key string) {
		value, ok := d.scalar(node, key)
		if !ok {
			return
		}
		for _, word := range words {
			if value == word {
				set(value)
				return
			}
		}
		d.fail(node, key, "%s is not one of %s; %s", shown(value), strings.Join(words, ", "), hint(value, words))
	}
}

// number reads a finite number from low to high, both included.
func (d *decoder) number(into *float64, low, high float64) reader {
	return func(node *yaml.Node, key string) {
		value, ok := d.scalar(node, key)
		if !ok {
			return
		}
		x, err := strconv.ParseFloat(value, 64)
		if err != nil || node.Tag == "!!str" || math.IsNaN(x) || math.IsInf(x, 0) {
			d.fail(node, key, "%s is not a number", shown(value))
			return
		}
		if x < low || x > high {
			d.fail(node, key, "%s is outside %g to %g", shown(value), low, high)
			return
		}
		*into = x
	}
}

// whole reads a whole number from low to high, both included.
func (d *decoder) whole(into *int, low, high int) reader {
	return func(node *yaml.Node, key string) {
		value, ok := d.scalar(node, key)
		if !ok {
			return
		}
		n, err := strconv.Atoi(value)
		if err != nil || node.Tag == "!!str" {
			d.fail(node, key, "%s is not a whole number", shown(value))
			return
		}
		if n < low || n > high {
			d.fail(node, key, "%s is outside %d to %d", shown(value), low, high)
			return
		}
		*into = n
	}
}

// seed reads a whole number from 0 to 2^64-1.
func (d *decoder) seed(into *uint64) reader {
	return func(node *yaml.Node, key string) {
		value, ok := d.scalar(node, key)
		if !ok {
			return
		}
		n, err := strconv.ParseUint(value, 10, 64)
		if err != nil || node.Tag == "!!str" {
			d.fail(node, key, "%s is not a whole number from 0 up", shown(value))
			return
		}
		*into = n
	}
}

// duration reads a time span with its unit, from low to high.
func (d *decoder) duration(into *time.Duration, low, high time.Duration) reader {
	return func(node *yaml.Node, key string) {
		value, ok := d.scalar(node, key)
		if !ok {
			return
		}
		span, err := time.ParseDuration(value)
		if err != nil {
			d.fail(node, key, "%s is not a time span; write it with its unit, such as 150s or 2m30s", shown(value))
			return
		}
		if span < low || span > high {
			d.fail(node, key, "%s is outside %s to %s", shown(value), low, high)
			return
		}
		*into = span
	}
}

// zone reads the name of a time zone from the IANA list.
func (d *decoder) zone(set func(*time.Location)) reader {
	return func(node *yaml.Node, key string) {
		value, ok := d.scalar(node, key)
		if !ok {
			return
		}
		// Local would make results depend on the machine.
		loc, err := time.LoadLocation(value)
		if err != nil || value == "" || strings.EqualFold(value, "local") {
			d.fail(node, key, "%s is no time zone of the IANA list; write for example Europe/Lisbon or UTC", shown(value))
			return
		}
		set(loc)
	}
}

// shown quotes a value for a message and cuts a long one.
func shown(value string) string {
	runes := []rune(value)
	if len(runes) > 40 {
		value = string(runes[:40]) + "…"
	}
	return strconv.Quote(value)
}
