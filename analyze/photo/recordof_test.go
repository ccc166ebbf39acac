package photo

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// RecordOf tells what Open tells, and nothing of files that cannot be read.
func TestRecordOfIsThatOfOpen(t *testing.T) {
	names, err := filepath.Glob("testdata/*")
	require.NoError(t, err)
	read := 0
	for _, name := range names {
		p, err := Open(t.Context(), name, Limits{})
		if err != nil {
			continue
		}
		read++
		assert.Equal(t, p.Record, RecordOf(Source{Path: name}, Limits{}), name)
	}
	assert.Positive(t, read)
	bad := filepath.Join(t.TempDir(), "list.jpg")
	require.NoError(t, os.WriteFile(bad, []byte("milk, thread"), 0o644))
	assert.Zero(t, RecordOf(Source{Path: bad}, Limits{}))
	assert.Zero(t, RecordOf(Source{Path: "missing.jpg"}, Limits{}))
}
