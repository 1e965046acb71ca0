package localpage

import "testing"

func TestListKeepsWhatItDoesNotKnow(t *testing.T) {
	const was = "\ufeffSwimmer;shoe size;consent\nÁna Duarte;38;\n\"Ben \"\"B\"\"\";41;no\n"
	l, err := parseList([]byte(was))
	if err != nil {
		t.Fatal(err)
	}
	row := l.row("swimmer", "ÁNA  duarte")
	if row != 0 {
		t.Fatalf("Ána is in row %d", row)
	}
	l.set(row, "consent", "yes")
	l.set(row, "hr_rest", "") // nothing to say: no new column
	next := l.add()
	l.set(next, "swimmer", "Cleo; the third")
	l.set(next, "hr_rest", "52")
	data, err := l.bytes()
	if err != nil {
		t.Fatal(err)
	}
	const want = "\ufeffSwimmer;shoe size;consent;hr_rest\nÁna Duarte;38;yes\n\"Ben \"\"B\"\"\";41;no\n\"Cleo; the third\";;;52\n"
	if string(data) != want {
		t.Errorf("got\n%q\nwant\n%q", data, want)
	}
	if again, err := parseList(data); err != nil || again.cell(2, "hr_rest") != "52" || again.cell(0, "hr_rest") != "" {
		t.Errorf("it does not read back: %v", err)
	}
}

func TestListRefusesWhatItCannotWriteBack(t *testing.T) {
	for _, text := range []string{"", "swimmer\n\"open", "a\"b,c\n"} {
		if _, err := parseList([]byte(text)); err == nil {
			t.Errorf("%q was taken", text)
		}
	}
}
