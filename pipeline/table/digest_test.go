package table

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"math"
	"strings"
	"testing"

	"lengthwise/schemas"
)

// TestCanonicalForm builds the hash of a column by hand from its description.
func TestCanonicalForm(t *testing.T) {
	type pair struct {
		X *float64 `parquet:"x,optional" about:"a number"`
		S string   `parquet:"s" about:"a text"`
	}
	d := schemas.Description{Name: "pair", About: "two columns", Row: pair{}}
	long := strings.Repeat("long ", 10_000) // more than the hash keeps pending
	got, err := ContentOf(d, []pair{{X: nil, S: ""}, {X: ptr(math.Copysign(0, -1)), S: "é"}, {X: ptr(1.5), S: long}})
	if err != nil {
		t.Fatal(err)
	}
	u32, u64 := binary.LittleEndian.AppendUint32, binary.LittleEndian.AppendUint64
	text := func(b []byte, s string) []byte { return append(u64(append(b, 1), uint64(len(s))), s...) }

	x := []byte{0}                    // null
	x = u64(append(x, 1), 0)          // -0 counts as +0
	x = u64(append(x, 1), 0x3ff8<<48) // 1.5
	x = u64(x, 3)                     // rows of the only row group
	s := u64(text(text(text(nil, ""), "é"), long), 3)
	column := func(name, kind string, nullable byte, group []byte) [sha256.Size]byte {
		b := append(u32([]byte("lengthwise column 2\n"), uint32(len(name))), name...)
		b = append(append(u32(b, uint32(len(kind))), kind...), nullable)
		sum := sha256.Sum256(group)
		return sha256.Sum256(u64(append(b, sum[:]...), 3))
	}
	hx, hs := column("x", "double", 1, x), column("s", "string", 0, s)
	all := u64([]byte("lengthwise table 2\n"), 3)
	content := sha256.Sum256(append(append(all, hx[:]...), hs[:]...))

	if got.Columns[0].SHA256 != hex.EncodeToString(hx[:]) || got.Columns[0].Nulls != 1 {
		t.Errorf("column x: %+v", got.Columns[0])
	}
	if got.Columns[1].SHA256 != hex.EncodeToString(hs[:]) || got.Columns[1].Nulls != 0 {
		t.Errorf("column s: %+v", got.Columns[1])
	}
	if got.Content != hex.EncodeToString(content[:]) {
		t.Errorf("table: %s", got.Content)
	}
}

func TestCanonicalNumbers(t *testing.T) {
	hash := func(values ...float64) string {
		h := newColumnHash(Column{Name: "x", Type: Double})
		for _, v := range values {
			h.double(v)
		}
		return h.finish().SHA256
	}
	otherNaN := math.Float64frombits(0xfff8000000000001)
	if hash(0) != hash(math.Copysign(0, -1)) {
		t.Error("-0 and +0 differ")
	}
	if hash(math.NaN()) != hash(otherNaN) {
		t.Error("two NaNs differ")
	}
	if hash(1) == hash(math.Nextafter(1, 2)) || hash(0) == hash(math.SmallestNonzeroFloat64) {
		t.Error("neighbouring numbers are the same")
	}
	if hash(1, 2) == hash(2, 1) {
		t.Error("the order does not matter")
	}
}

func TestSameContent(t *testing.T) {
	want, err := ContentOf(kindsTable, []kinds{{Text: "a"}, {Text: "b"}})
	if err != nil {
		t.Fatal(err)
	}
	clone := func() Digest {
		d := want
		d.Columns = append([]ColumnDigest(nil), want.Columns...)
		return d
	}
	for name, c := range map[string]struct {
		spoil func(*Digest)
		words string
	}{
		"rows":    {func(d *Digest) { d.Rows++ }, "3 rows instead of 2"},
		"shape":   {func(d *Digest) { d.Columns = d.Columns[1:] }, "columns instead of"},
		"name":    {func(d *Digest) { d.Columns[2].Name = "fleg" }, `"fleg"`},
		"nulls":   {func(d *Digest) { d.Columns[8].Nulls = 0 }, `"plain_p" has 0 nulls instead of 2`},
		"values":  {func(d *Digest) { d.Columns[0].SHA256 = "00" }, `"text" holds other values`},
		"content": {func(d *Digest) { d.Content = "00" }, "altered"},
	} {
		got := clone()
		c.spoil(&got)
		t.Run(name, func(t *testing.T) { wantError(t, SameContent(got, want), c.words) })
	}
	if err := SameContent(clone(), want); err != nil {
		t.Error(err)
	}
}

// TestHashRoom feeds values of every length around the buffer's size.
func TestHashRoom(t *testing.T) {
	for n := 1<<14 - 80; n < 1<<14+20; n++ {
		h := newColumnHash(Column{Name: "s", Type: String})
		var want []byte
		for _, s := range []string{"ab", strings.Repeat("x", n), "", "cd"} {
			h.text(s)
			want = append(binary.LittleEndian.AppendUint64(append(want, 1), uint64(len(s))), s...)
		}
		h.endGroup()
		if h.groups[0] != sha256.Sum256(binary.LittleEndian.AppendUint64(want, 4)) {
			t.Fatalf("text of %d bytes: another hash", n)
		}
	}
}
