package resample

import (
	"math/bits"
	"math/rand/v2"
)

// A Stream is a source of random draws for one replicate. It is a plain
// value: keep it in a local variable and no draw allocates.
//
// The generator is PCG-DXSM of math/rand/v2, whose sequence is fixed by the
// standard library's documentation.
type Stream struct {
	pcg rand.PCG
}

// NewStream returns the stream of the given replicate under seed. Streams of
// different replicates or seeds are unrelated: both words of the generator's
// state are mixed from the pair by the finaliser of SplitMix64 (Steele, Lea
// and Flood 2014, OOPSLA).
func NewStream(seed uint64, replicate int) Stream {
	high := mix(seed + 0x9e3779b97f4a7c15)
	low := mix(high ^ mix(uint64(replicate)+0xd1b54a32d192ed03))
	var s Stream
	s.pcg.Seed(high, low)
	return s
}

// Below returns a uniform draw from 0 to n-1, unbiased (Lemire 2019, ACM
// Transactions on Modeling and Computer Simulation 29:3). It panics if n < 1.
func (s *Stream) Below(n int) int {
	if n < 1 {
		panic("resample: Below of a number under one")
	}
	bound := uint64(n)
	high, low := bits.Mul64(s.pcg.Uint64(), bound)
	if low < bound {
		threshold := -bound % bound
		for low < threshold {
			high, low = bits.Mul64(s.pcg.Uint64(), bound)
		}
	}
	return int(high)
}

// Shuffle puts values in a uniformly random order, in place (Fisher and
// Yates 1938; Durstenfeld 1964).
func Shuffle[T any](s *Stream, values []T) {
	for i := len(values) - 1; i > 0; i-- {
		j := s.Below(i + 1)
		values[i], values[j] = values[j], values[i]
	}
}

// mix is the 64-bit finaliser of SplitMix64, a bijection.
func mix(z uint64) uint64 {
	z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9
	z = (z ^ (z >> 27)) * 0x94d049bb133111eb
	return z ^ (z >> 31)
}
