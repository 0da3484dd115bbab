//go:build reference

package sampling

import "testing"

// The long forms of tests. They need no tool, only minutes.

func TestReferenceStrataAreEqual(t *testing.T) { strataAreEqual(t, 2, 5, 8, 13, 24, 41, 60) }

func TestReferenceStrataAreCompact(t *testing.T) {
	strataAreCompact(t, 50, []string{"square", "L", "holes", "rough 1", "rough 2", "rough 7"}, 4, 11, 40)
}
