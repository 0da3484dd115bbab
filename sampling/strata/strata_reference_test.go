//go:build reference

package strata

import (
	"fmt"
	"testing"
)

// The long forms of tests. They need no tool, only minutes.

func TestReferenceStrataAreEqual(t *testing.T) { strataAreEqual(t, 2, 5, 8, 13, 24, 41, 60) }

func TestReferenceRoughGroundIsSplit(t *testing.T) { roughIsSplit(t, 60) }

// Every run comes within 1 % of the best of fifty: here on every third ground.
// With -v the figures are told.
func TestReferenceStrataAreCompact(t *testing.T) {
	names, all := fields(t)
	for i, name := range names {
		for _, n := range []int{5, 12, 40} {
			if i%3 > 0 {
				continue // for the sake of time
			}
			t.Run(fmt.Sprintf("%s/n=%d", name, n), func(t *testing.T) {
				t.Parallel()
				areCompact(t, Compact, all[name], n, 50, 0.01)
			})
		}
	}
}

func TestReferenceQuickStrataAreCompact(t *testing.T) {
	names, all := fields(t)
	for _, name := range names[:4] {
		t.Run(name, func(t *testing.T) { areCompact(t, Quick, all[name], 15, 50, 0.03) })
	}
}
