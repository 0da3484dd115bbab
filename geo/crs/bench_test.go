package crs_test

import (
	"testing"

	"corewalk/geo/crs"
)

func BenchmarkUTMForward(b *testing.B) {
	s := crs.UTM(15, false)
	for b.Loop() {
		if _, _, err := s.Forward(crs.LonLat{-93.65, 42.03}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkUTMInverse(b *testing.B) {
	s := crs.UTM(15, false)
	for b.Loop() {
		if _, err := s.Inverse(446193.7166, 4653311.4455); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFromWKT(b *testing.B) {
	text := prj(b, "esri_iowa_south_feet")
	for b.Loop() {
		if _, err := crs.FromWKT(text); err != nil {
			b.Fatal(err)
		}
	}
}
