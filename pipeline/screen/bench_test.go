package screen

import (
	"testing"

	"lengthwise/datasets/faults"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// BenchmarkSessions screens sessions of many kinds without heart rate, so that
// time and memory are those of lengths.
func BenchmarkSessions(b *testing.B) { benchmark(b, faults.EarlyTurn, 0.27) }

// BenchmarkSessionsWithHeartRate adds samples; time and memory are still given by
// length (about 40 samples each).
func BenchmarkSessionsWithHeartRate(b *testing.B) { benchmark(b, faults.Lock, 120) }

func benchmark(b *testing.B, k faults.Kind, size float64) {
	var sessions []normalise.Session
	lengths := 0
	for seed := range uint64(40) {
		s := faults.Simulate(seed, k, size, 1)
		normal, _, err := normalise.Sessions([]read.Recording{recording(&s)}, nil, study.Default())
		if err != nil {
			b.Fatal(err)
		}
		sessions = append(sessions, normal...)
		lengths += len(s.Lengths)
	}
	settings := settings()
	b.ReportAllocs()
	for b.Loop() {
		for i := range sessions {
			Apply(sessions[i], settings)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*lengths), "ns/length")
}
