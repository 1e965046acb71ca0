package study

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
)

// Change is a dated change of how swimmers swim. Several entries of one name
// are one change that reaches different swimmers on different days.
type Change struct {
	Name     string
	Swimmers []string // names as in the roster; nil means all
	On       []string // YYYY-MM-DD, ascending: in force from this day on
	Off      []string // YYYY-MM-DD, each after the On of its place: no longer in force from this day on
}

// Active reports whether the change is in force on a day, YYYY-MM-DD.
func (c Change) Active(day string) bool {
	for i := len(c.On) - 1; i >= 0; i-- {
		if day >= c.On[i] {
			return i >= len(c.Off) || day < c.Off[i]
		}
	}
	return false
}

// Switches lists the days on which the change goes on, off, on ...
func (c Change) Switches() []string {
	var days []string
	for i := range c.On {
		days = append(days, c.On[i])
		if i < len(c.Off) {
			days = append(days, c.Off[i])
		}
	}
	return days
}

func (d *decoder) change(node *yaml.Node, key string) Change {
	var c Change
	d.mapping(node, key, []field{
		{"name", d.text(&c.Name)},
		{"swimmers", func(node *yaml.Node, key string) {
			if node.Kind == yaml.ScalarNode {
				if node.Value != "all" {
					d.fail(node, key, "write all, or a list of names such as [Ana, Ben]")
				}
				return
			}
			if node.Kind == yaml.SequenceNode && len(node.Content) == 0 {
				d.fail(node, key, "names nobody; write all, or a list of names such as [Ana, Ben]")
			}
			d.sequence(func(_ int, node *yaml.Node, key string) {
				var name string
				d.text(&name)(node, key)
				c.Swimmers = append(c.Swimmers, name)
			})(node, key)
		}},
		{"on", d.days(&c.On)},
		{"off", d.days(&c.Off)},
	})
	return c
}

// days reads a day or a list of days.
func (d *decoder) days(into *[]string) reader {
	return func(node *yaml.Node, key string) {
		one := func(_ int, node *yaml.Node, key string) {
			value, ok := d.scalar(node, key)
			if !ok {
				return
			}
			if _, err := time.Parse(time.DateOnly, value); err != nil {
				d.fail(node, key, "%s is not a date; write it as 2026-03-02", shown(value))
				return
			}
			*into = append(*into, value)
		}
		if node.Kind == yaml.ScalarNode {
			one(0, node, key)
			return
		}
		d.sequence(one)(node, key)
	}
}

// checkChanges looks at what one entry or one date alone cannot show.
func (d *decoder) checkChanges(s *Study) {
	type place struct {
		entry int
		all   bool
	}
	named := map[string]place{}
	listed := map[[2]string]int{} // change and swimmer -> entry
	for i, c := range s.Changes {
		key := fmt.Sprintf("changes[%d]", i+1)
		if c.Name == "" && !d.failed(key+".name") {
			d.at(key, "name is missing")
		}
		d.checkDays(c, key)
		if d.failed(key+".swimmers") || c.Name == "" {
			continue
		}
		everybody := len(c.Swimmers) == 0
		if first, twice := named[c.Name]; twice && (everybody || first.all) {
			d.at(key+".name", "change %d has this name already: give each entry swimmers of its own (one change that begins on different days), or give this one another name", first.entry)
		} else if !twice {
			named[c.Name] = place{i + 1, everybody}
		}
		for _, name := range c.Swimmers {
			who := [2]string{c.Name, strings.ToLower(strings.Join(strings.Fields(name), " "))}
			if first, twice := listed[who]; twice {
				d.at(key+".swimmers", "%s is in change %d of the same name already", shown(name), first)
			} else {
				listed[who] = i + 1
			}
		}
	}
}

// checkDays holds the days of a change to going on, off, on ... in order.
func (d *decoder) checkDays(c Change, key string) {
	if d.failed(key+".on") || d.failed(key+".off") {
		return
	}
	if len(c.On) == 0 {
		d.at(key, "on is missing: the date of the change, such as 2026-03-02")
		return
	}
	if n := len(c.On) - len(c.Off); n != 0 && n != 1 {
		d.at(key, "on has %d dates and off has %d: each on is followed by its off, and the last one may stay on", len(c.On), len(c.Off))
		return
	}
	for days, i := c.Switches(), 1; i < len(days); i++ {
		if days[i] <= days[i-1] {
			d.at(key, "%s does not come after %s: the dates go on, off, on ... in order", days[i], days[i-1])
			return
		}
	}
}

// setBeforehand reads the tags that were set by plan.
func (d *decoder) setBeforehand(node *yaml.Node, key string) []string {
	var tags []string
	d.sequence(func(_ int, node *yaml.Node, key string) {
		var tag string
		d.text(&tag)(node, key)
		tag = strings.ToLower(strings.TrimSpace(tag))
		switch {
		case tag == "":
		case tag == "instruction" || tag == "rate_target":
			d.fail(node, key, "%s is always set beforehand; take it out", shown(tag))
		case tag == "breathing":
			d.fail(node, key, "nothing is concluded from breath patterns, however they came about; take it out")
		case slices.Contains(tags, tag):
			d.fail(node, key, "%s is in the list already", shown(tag))
		default:
			tags = append(tags, tag)
		}
	})(node, key)
	return tags
}

func changeNode(c Change, call func(string) string) *yaml.Node {
	swimmers := textNode("all")
	if c.Swimmers != nil {
		swimmers = listOf(c.Swimmers, func(name string) *yaml.Node { return textNode(call(name)) })
	}
	node := mappingOf("name", textNode(c.Name), "swimmers", swimmers, "on", daysNode(c.On))
	if len(c.Off) > 0 {
		add(node, "off", daysNode(c.Off))
	}
	return node
}

// daysNode writes one day as it stands and several as a list.
func daysNode(days []string) *yaml.Node {
	if len(days) == 1 {
		return plainNode(days[0])
	}
	return listOf(days, plainNode)
}
