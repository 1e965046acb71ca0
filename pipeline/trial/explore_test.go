package trial

import (
	"math"
	"os"
	"strconv"
	"testing"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/derive"
)

func TestExplore(t *testing.T) {
	if os.Getenv("EXPLORE") == "" {
		t.Skip()
	}
	sets := settings()
	swimmers, _ := strconv.Atoi(os.Getenv("EXPLORE"))
	for _, seconds := range []float64{60, 90, 120, 150, 180, 240} {
		sc := squad.DesignedBar(-3, 99, swimmers)
		sc.HeartRate, sc.LengthDetail = squad.HeartRateSamples, true
		sc.ReadingNoiseBPM, sc.WanderBPM = 0.8, 1.2
		sc.PaceLevels = []float64{0}
		var own []derive.OwnTau
		var us []underway
		var sws []squad.Swimmer
		for i := range swimmers {
			one := squad.SimulateSwimmer(sc, i)
			sc2 := sc
			sc2.Pools = []squad.PoolShare{{Metres: 25, Weight: 1}}
			sc2.Distances = []float64{math.Max(25, 25*math.Round(seconds*one.RefSpeedMPS/25))}
			sw := squad.SimulateSwimmer(sc2, i)
			u, err := begin(&sw, sets)
			if err != nil {
				t.Fatal(err)
			}
			own, us, sws = append(own, u.tau), append(us, u), append(sws, sw)
		}
		q := derive.Settle(own)
		var se2, bias, n, z2, tz2, tb, own2, known2 float64
		methods := map[string]int{}
		for i := range us {
			tau := q.Shrink(us[i].tau)
			bouts := us[i].finish(q, sets)
			k := 0
			for s := range sws[i].Sessions {
				for _, b := range sws[i].Sessions[s].Bouts {
					d := bouts[k]
					methods[d.HRMethod]++
					if d.HRMethod == "kinetics" {
						e := d.HRSteadyBPM - b.SteadyBPM
						bias += e
						se2 += e * e
						v := d.HROwnSE*d.HROwnSE + math.Pow(d.HRByLnTau*d.LnTauSE, 2)
						own2 += v
						z2 += e * e / v
						known := e - d.HRByLnTau*(tau.LnSeconds-math.Log(sws[i].TauSeconds))
						known2 += known * known
						n++
					}
					k++
				}
			}
			if !math.IsNaN(tau.LnSeconds) {
				z := tau.LnSeconds - math.Log(sws[i].TauSeconds)
				tb += z / float64(len(us))
				tz2 += z * z / tau.StdError / tau.StdError / float64(len(us))
			}
			if i < 4 {
				t.Logf("   tau %.1f own %.1f se %.3f used %.1f se %.3f %s", sws[i].TauSeconds, math.Exp(us[i].tau.LnSeconds), us[i].tau.StdError, math.Exp(tau.LnSeconds), tau.StdError, tau.Reason)
			}
		}
		t.Logf("%3.0f s: %v squad %+v rmse %.2f bias %.2f claimed %.2f z2 %.2f; tau known %.2f; ln tau bias %.3f z2 %.2f", seconds, methods, q, math.Sqrt(se2/n), bias/n, math.Sqrt(own2/n), z2/n, math.Sqrt(known2/n), tb, tz2)
	}
}
