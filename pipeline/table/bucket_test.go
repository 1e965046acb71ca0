package table

import (
	"fmt"
	"testing"
)

func TestBucket(t *testing.T) {
	// First bytes of SHA-256 by coreutils' sha256sum, which for "abc" is
	// the example of FIPS 180-4.
	for swimmer, want := range map[string]int{"": 0xe3 % 64, "abc": 0xba % 64} {
		if got := Bucket(swimmer); got != want {
			t.Errorf("%q: bucket %d, want %d", swimmer, got, want)
		}
	}
	var counts [Buckets]int
	for i := range 6400 {
		counts[Bucket(fmt.Sprintf("swimmer-%d", i))]++
	}
	chi2 := 0.0
	for _, n := range counts {
		chi2 += float64((n-100)*(n-100)) / 100
	}
	if chi2 > 103.4 { // upper 0.1 % point at 63 degrees of freedom: qchisq(.999, 63) of R 4.2.2
		t.Errorf("buckets are uneven: %v", counts)
	}
	if BucketFile("heart_rate", 7) != "heart_rate/bucket-07.parquet" || TableFile("bouts") != "bouts.parquet" {
		t.Error("file names have changed")
	}
}
