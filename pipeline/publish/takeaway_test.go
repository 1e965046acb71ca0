package publish

import (
	"encoding/base64"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"html"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var carried = regexp.MustCompile(`<a download="([^"]+)" type="([^"]+)" href="data:([^;]+);base64,([^"]*)">`)

// Every figure's picture and numbers can be saved from the page itself.
func TestTakeaways(t *testing.T) {
	for _, name := range []string{"page.html", "swimmer.html"} {
		data, err := os.ReadFile(filepath.Join("testdata", name))
		if err != nil {
			t.Fatal(err)
		}
		page := html.UnescapeString(string(data))
		figures := strings.Count(page, "<figure id=")
		found := carried.FindAllStringSubmatch(page, -1)
		pictures, tables := 0, 0
		for _, link := range found {
			if link[2] != link[3] {
				t.Errorf("%s: %s is said to be %s and is %s", name, link[1], link[2], link[3])
			}
			data, err := base64.StdEncoding.DecodeString(link[4])
			if err != nil {
				t.Fatalf("%s: %s: %v", name, link[1], err)
			}
			switch link[2] {
			case "image/svg+xml":
				pictures++
				standsAlone(t, link[1], string(data))
			case "text/csv":
				tables++
				opens(t, link[1], string(data))
			}
		}
		if figures == 0 || pictures != figures || tables == 0 {
			t.Errorf("%s: %d figures, %d pictures and %d tables to save", name, figures, pictures, tables)
		}
	}
}

// standsAlone wants a picture that needs no page around it.
func standsAlone(t *testing.T, name, picture string) {
	t.Helper()
	for _, part := range []string{`xmlns="http://www.w3.org/2000/svg"`, ` width="`, "<style>svg text", "<title "} {
		if !strings.Contains(picture, part) {
			t.Errorf("%s has no %s", name, part)
		}
	}
	if strings.Contains(picture, "var(") || strings.Contains(picture, "fill: ;") {
		t.Errorf("%s needs the variables of a page", name)
	}
	style := picture[strings.Index(picture, "<style>"):strings.Index(picture, "</style>")]
	d := xml.NewDecoder(strings.NewReader(picture))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		start, ok := token.(xml.StartElement)
		if !ok || start.Name.Local == "svg" || start.Name.Local == "tspan" {
			continue
		}
		for _, a := range start.Attr {
			if a.Name.Local == "class" && !regexp.MustCompile(`\.`+a.Value+`[ ,{]`).MatchString(style) && a.Value != "name" {
				t.Errorf("%s: nothing says how %q is drawn", name, a.Value)
			}
		}
	}
}

// opens wants a table that a spreadsheet reads as numbers and texts.
func opens(t *testing.T, name, text string) {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(text, "\ufeff"))).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if len(rows) < 2 {
		t.Errorf("%s has %d lines", name, len(rows))
	}
	for _, row := range rows {
		for _, cell := range row {
			if strings.ContainsAny(cell, "\u2212") && !strings.Contains(cell, " ") {
				t.Errorf("%s: %q is no number to a spreadsheet", name, cell)
			}
			if strings.HasPrefix(cell, "=") || strings.HasPrefix(cell, "+") || strings.HasPrefix(cell, "@") {
				t.Errorf("%s: %q is a formula to a spreadsheet", name, cell)
			}
		}
	}
}

func TestPlain(t *testing.T) {
	for _, c := range []struct {
		text   string
		number bool
		want   string
	}{
		{"+3.8", true, "3.8"}, {"\u22120.4", true, "-0.4"}, {none, true, ""}, {"+2.7 to +5.0", true, "2.7 to 5.0"},
		{"=1+1", false, "'=1+1"}, {"@x", false, "'@x"}, {"-x", false, "'-x"}, {"Otto", false, "Otto"}, {"", false, ""},
	} {
		if got := plain(c.text, c.number); got != c.want {
			t.Errorf("%q: %q, want %q", c.text, got, c.want)
		}
	}
}
