//go:build reference

package main

import "testing"

// TestReferenceCheckDamagedFiles is the long form of TestCheckDamagedFiles. It
// needs no tool, only time.
func TestReferenceCheckDamagedFiles(t *testing.T) { damaged(t, 2000) }
