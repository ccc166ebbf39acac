package photo

import (
	"bytes"
	"context"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A photo can come from anywhere; it is the one that a file of the same bytes
// gives, and has the same sum.
func TestASourceIsItsBytes(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, image.NewGray(image.Rect(0, 0, 30, 20))))
	path := filepath.Join(t.TempDir(), "a.png")
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o600))
	file, memory := Source{Name: path, Path: path}, SourceOf("somewhere", b.Bytes())
	one, err := Read(t.Context(), file, Limits{})
	require.NoError(t, err)
	other, err := Read(t.Context(), memory, Limits{})
	require.NoError(t, err)
	assert.Equal(t, "somewhere", other.Name)
	assert.Equal(t, one.Picture.Pix, other.Picture.Pix)
	sum, err := file.Sum(Limits{})
	require.NoError(t, err)
	again, err := memory.Sum(Limits{})
	require.NoError(t, err)
	assert.Equal(t, sum, again)
	assert.Len(t, sum, 64)
	var bad *Error
	_, err = Read(t.Context(), memory, Limits{Bytes: int64(b.Len()) - 1})
	require.ErrorAs(t, err, &bad)
	assert.Contains(t, bad.Reason, "the limit is")
	_, err = SourceOf("empty", nil).Sum(Limits{})
	require.ErrorAs(t, err, &bad)
	assert.Equal(t, "empty", bad.Photo)
}

// slowly gives a photo's bytes and stops the work in the middle of them.
type slowly struct {
	io.ReaderAt
	at   int64
	stop func()
}

func (s slowly) ReadAt(p []byte, off int64) (int, error) {
	if off > s.at {
		s.stop()
	}
	return s.ReaderAt.ReadAt(p, off)
}

// A decoder that nobody waits for ends at its next bytes, and nothing of it is
// left behind.
func TestStoppedDecodingEnds(t *testing.T) {
	noise := image.NewRGBA(image.Rect(0, 0, 1200, 900))
	for i := range noise.Pix {
		noise.Pix[i] = uint8(i * i >> 7)
	}
	var jpegs, pngs bytes.Buffer
	require.NoError(t, jpeg.Encode(&jpegs, noise, nil))
	require.NoError(t, png.Encode(&pngs, noise))
	for name, data := range map[string][]byte{"JPEG": jpegs.Bytes(), "PNG": pngs.Bytes()} {
		before := runtime.NumGoroutine()
		ctx, stop := context.WithCancel(context.Background())
		in := bytesInput(data)
		in.ReaderAt = stoppable{ctx, slowly{in.ReaderAt, in.size / 2, stop}}
		_, err := decode(ctx, in, Limits{})
		require.ErrorIs(t, err, context.Canceled, name)
		for range 1000 { // a goroutine that has done its work takes a moment to end
			if runtime.NumGoroutine() <= before {
				break
			}
			time.Sleep(time.Millisecond)
		}
		require.LessOrEqual(t, runtime.NumGoroutine(), before, name)
	}
}
