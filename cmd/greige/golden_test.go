package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden figures of the demo anew; look at what changed before keeping it")

// tolerances say how far a figure may be from the golden one, by its field:
// the last digits differ between processors. What is not listed is told in
// thousandths.
var tolerances = map[string]float64{
	"lab": .05, "lightness": .05, "uncertainty": .05, "uncertainty_apart": .05, "looks_like": .1, "spread": .05,
	"delta_l": .1, "delta_e": .1, "clarity": .1, "cuts": .05, "range": .05, "gap": .1,
	"corners": 1, "share": .005, "fit": .01, "reads": .01, "munsell_value": .01,
}

// The figures of the demo scene stay what they are. A change that means to
// move them is made together with `go test ./cmd/greige -run Golden -update`.
func TestGoldenFiguresOfTheDemo(t *testing.T) {
	dir := t.TempDir()
	require.Equal(t, statusDone, run(context.Background(), []string{"demo", dir, "--quiet"}, io.Discard, os.Stderr))
	for _, job := range []string{"sort", "layout", "border", "plan"} {
		data, err := os.ReadFile(filepath.Join(dir, "greige-"+job+".json"))
		require.NoError(t, err)
		var got any
		require.NoError(t, json.Unmarshal([]byte(strings.ReplaceAll(string(data), dir+string(filepath.Separator), "")), &got))
		got = without(got, "outline", "version")
		golden := filepath.Join("..", "..", "testdata", "golden", job+".json")
		if *update {
			out, err := json.MarshalIndent(got, "", " ")
			require.NoError(t, err)
			require.NoError(t, os.MkdirAll(filepath.Dir(golden), 0o755))
			require.NoError(t, os.WriteFile(golden, append(out, '\n'), 0o644))
		}
		data, err = os.ReadFile(golden)
		require.NoError(t, err)
		var want any
		require.NoError(t, json.Unmarshal(data, &want))
		for i, d := range differences(want, got, job, "") {
			if t.Error(d); i > 20 {
				break
			}
		}
	}
}

// without is v less the fields of those names.
func without(v any, names ...string) any {
	switch v := v.(type) {
	case map[string]any:
		for _, n := range names {
			delete(v, n)
		}
		for k, e := range v {
			v[k] = without(e, names...)
		}
	case []any:
		for i, e := range v {
			v[i] = without(e, names...)
		}
	}
	return v
}

// differences are the places where two JSON values differ by more than the
// tolerance of the field that they stand in.
func differences(want, got any, at, field string) (out []string) {
	tell := func() []string { return []string{fmt.Sprintf("%s: %v, was %v", at, got, want)} }
	switch want := want.(type) {
	case map[string]any:
		g, ok := got.(map[string]any)
		if !ok || len(g) != len(want) {
			return tell()
		}
		for k, w := range want {
			out = append(out, differences(w, g[k], at+"."+k, k)...)
		}
	case []any:
		g, ok := got.([]any)
		if !ok || len(g) != len(want) {
			return tell()
		}
		for i, w := range want {
			out = append(out, differences(w, g[i], fmt.Sprintf("%s[%d]", at, i), field)...)
		}
	case float64:
		tolerance, ok := tolerances[field]
		if !ok {
			tolerance = .001
		}
		if g, ok := got.(float64); !ok || math.Abs(g-want) > tolerance {
			return tell()
		}
	default:
		if got != want {
			return tell()
		}
	}
	return out
}
