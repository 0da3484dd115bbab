//go:build reference

package picture

import (
	"bytes"
	"os/exec"
	"testing"
)

// The documents must be well formed to a strict parser that is not ours.
func TestReferenceXMLLint(t *testing.T) {
	for name, d := range drawings() {
		cmd := exec.Command("xmllint", "--noout", "--nonet", "-")
		cmd.Stdin = bytes.NewReader(svgOf(t, d))
		if out, err := cmd.CombinedOutput(); err != nil || len(out) > 0 {
			t.Errorf("%s: %v\n%s", name, err, out)
		}
	}
}
