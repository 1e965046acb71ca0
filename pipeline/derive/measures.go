package derive

import "math"

// Speed is v = L/T in m/s, for a distance in metres and seconds.
func Speed(distanceM, seconds float64) float64 { return distanceM / seconds }

// Pace is the seconds for 100 m at a speed in m/s.
func Pace(speedMPS float64) float64 { return 100 / speedMPS }

// StrokeRate is R = 60 N/T in strokes a minute. Push-off, glide and turn
// count as stroking time, so it reads lower than a rate timed in mid-pool.
func StrokeRate(strokes, seconds float64) float64 { return 60 * strokes / seconds }

// DistancePerStroke is D = L/N in metres; with Speed and StrokeRate it
// satisfies v = R D/60 (Craig and Pendergast 1979).
func DistancePerStroke(distanceM, strokes float64) float64 { return distanceM / strokes }

// StrokesPlusSeconds is the trade's score of a length, N + T.
func StrokesPlusSeconds(strokes, seconds float64) float64 { return strokes + seconds }

// StrokeIndex is speed times distance per stroke cycle in m²/s (Costill et
// al. 1985). armsPerCycle is 2 for freestyle and backstroke, 1 where strokes
// are cycles already.
func StrokeIndex(speedMPS, distancePerStrokeM, armsPerCycle float64) float64 {
	return speedMPS * distancePerStrokeM * armsPerCycle
}

// HeartRateReserve is the share of heart-rate reserve in use,
// (H - H_rest)/(H_max - H_rest) (Karvonen et al. 1957). All in beats a
// minute. It is NaN unless H_max > H_rest.
func HeartRateReserve(hrBPM, restBPM, maxBPM float64) float64 {
	if !(maxBPM > restBPM) {
		return math.NaN()
	}
	return (hrBPM - restBPM) / (maxBPM - restBPM)
}

// NetBeats is the heart beats above rest for 100 m, 100 (H - H_rest)/(60 v):
// the physiological cost index (MacGregor 1979) per 100 m, at a speed in m/s.
func NetBeats(hrBPM, restBPM, speedMPS float64) float64 {
	return 100 * (hrBPM - restBPM) / (60 * speedMPS)
}

// joulesPerML is the energy of a millilitre of oxygen, at a respiratory exchange
// ratio of about 0.96 (20.9 kJ/L, in wide use; 1.43 L/min for 0.5 kW in Pendergast et al. 2003 gives 20.98).
const joulesPerML = 20.9

// EnergyCost is the energy spent for a metre and a kilogram, in J/kg/m (di Prampero
// 1981): the oxidative part of the oxygen uptake above rest, both in mL/kg/min, and
// the part that lactate shows, its rise in mmol/L over the seconds swum with an
// equivalent in mL of oxygen a kg and mmol/L. Lactate that falls shows nothing
// spent: what is burnt of it is in the oxygen already.
func EnergyCost(vo2, vo2Rest, lactateRise, equivalent, seconds, speedMPS float64) float64 {
	oxidative := (vo2 - vo2Rest) / 60 * joulesPerML
	return (oxidative + LactatePower(lactateRise, equivalent, seconds)) / speedMPS
}

// LactatePower is the power in W/kg that a rise of lactate shows.
func LactatePower(rise, equivalent, seconds float64) float64 {
	return equivalent * math.Max(0, rise) * joulesPerML / seconds
}

// armsPerCycle says how many strokes a cycle has, as strokes are counted
// here: arm entries for all strokes but breaststroke and butterfly.
func armsPerCycle(stroke string) float64 {
	switch stroke {
	case "breaststroke", "butterfly":
		return 1
	}
	return 2
}
