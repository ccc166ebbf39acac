package report

import (
	"bytes"
	"errors"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/piles"
)

// Whatever bytes a stash's file holds: it is refused with an *Error, or what
// it holds can be sorted, written and read again.
func FuzzReadStash(f *testing.F) {
	f.Add([]byte(`{"schema":"greige/1","command":"sort","fabrics":[{"id":"1","photo":"a.jpg","lab":[50,1,2],"lightness":50,"uncertainty":1,"character":"solid","name":"medium gray","colours":[{"lab":[50,1,2],"hex":"#777777","share":1,"name":"medium gray"}]}]}`))
	f.Add([]byte(`{"schema":"greige/1","command":"sort","fabrics":[{"id":"1","lab":[1e9,0,0]}]}`))
	f.Add([]byte(`{"schema":"greige/1","command":"layout"}`))
	f.Add([]byte("\xef\xbb\xbf[]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		fabrics, _, err := ReadStash(bytes.NewReader(data))
		if err != nil {
			var e *Error
			require.True(t, errors.As(err, &e), "%v", err)
			require.NotEmpty(t, e.Reason)
			return
		}
		s := piles.Sort(fabrics, 3)
		var out bytes.Buffer
		require.NoError(t, WriteJSON(&out, &analyze.Result{Command: "sort", Distance: 2.5, Sort: s}, "test"))
		again, _, err := ReadStash(&out)
		require.NoError(t, err)
		require.Len(t, again, len(fabrics))
	})
}
