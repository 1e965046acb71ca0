package derive

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"lengthwise/pipeline/study"
)

func TestMeasuresAgainstPublishedValues(t *testing.T) {
	v := Speed(25, 20)
	cases := []struct {
		name, source string
		got, want    float64
	}{
		{"speed of 25 m in 20 s", "Craig and Pendergast 1979, Med Sci Sports 11:278, worked by hand", v, 1.25},
		{"10 cycles in 20 s", "the same", StrokeRate(10, 20), 30},
		{"distance per cycle", "the same", DistancePerStroke(25, 10), 2.5},
		{"v = R D/60", "the same", StrokeRate(10, 20) * DistancePerStroke(25, 10) / 60, 1.25},
		{"stroke index of cycles", "Costill et al. 1985, Int J Sports Med 6:266, v x D", StrokeIndex(1.5, 2.2, 1), 3.3},
		{"stroke index of arm strokes", "the same, two arm strokes a cycle", StrokeIndex(1.25, 1.25, 2), 3.125},
		{"400 yards", "international yard, 1959: 0.9144 m exactly", 400 * study.MetresPerYard, 365.76},
		{"25 yards", "the same", 25 * study.MetresPerYard, 22.86},
		{"56 strokes and 56 s", "common practice, no source", StrokesPlusSeconds(56, 56), 112},
		{"reserve at 131 of 72 to 190", "Karvonen et al. 1957, half of the reserve", HeartRateReserve(131, 72, 190), 0.5},
		{"reserve at 172.3 of 72 to 190", "the same, 85 %", HeartRateReserve(172.3, 72, 190), 0.85},
		{"reserve at 154 of 70 to 190", "the same, 70 %", HeartRateReserve(154, 70, 190), 0.7},
		{"net beats, 110 over 70 at 80 m/min", "MacGregor 1979, 0.5 beats a metre", NetBeats(110, 70, 80.0/60), 50},
		{"net beats, 150 over 60 at 1.25 m/s", "the same, 1.2 beats a metre", NetBeats(150, 60, 1.25), 120},
		{"3.0 L/min, 0.3 at rest, of 70 kg at 1.2 m/s", "20.9 kJ/L, worked by hand: 0.78375 kJ/m", 70 * EnergyCost(3000.0/70, 300.0/70, 0, 3, 100, 1.2) / 1000, 0.78375},
		{"6 mmol/L of 70 kg", "di Prampero 1981, 3 mL/kg/mM: 1,260 mL of oxygen, 26.334 kJ", 70 * 100 * LactatePower(6, 3, 100) / 1000, 26.334},
		{"the same with 2.7", "the same: 23.7006 kJ", 70 * 100 * LactatePower(6, 2.7, 100) / 1000, 23.7006},
		{"pace at 4/3 m/s", "Wakayoshi et al. 1992, 75 s per 100 m", Pace(4.0 / 3), 75},
	}
	for _, c := range cases {
		if math.Abs(c.got-c.want) > 1e-12*math.Max(1, math.Abs(c.want)) {
			t.Errorf("%s: %v, want %v (%s)", c.name, c.got, c.want, c.source)
		}
	}
}

func TestHeartRateReserveNeedsRoom(t *testing.T) {
	for _, limits := range [][2]float64{{60, 60}, {190, 60}, {math.NaN(), 190}, {60, math.NaN()}} {
		if got := HeartRateReserve(150, limits[0], limits[1]); !math.IsNaN(got) {
			t.Errorf("rest %v, max %v: %v, want NaN", limits[0], limits[1], got)
		}
	}
}

func TestSpeedIsRateTimesDistancePerStroke(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		metres := rapid.Float64Range(10, 1500).Draw(t, "metres")
		seconds := rapid.Float64Range(5, 2000).Draw(t, "seconds")
		strokes := rapid.Float64Range(1, 2000).Draw(t, "strokes")
		v := StrokeRate(strokes, seconds) * DistancePerStroke(metres, strokes) / 60
		if want := Speed(metres, seconds); math.Abs(v-want) > 1e-12*want {
			t.Fatalf("R D/60 = %v, v = %v", v, want)
		}
	})
}
