package photo

import (
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A picture in used memory is the same as one in new memory, whatever the
// memory held and whichever of the two photos was larger.
func TestSpareMemoryLeavesNoTrace(t *testing.T) {
	spare := &Spare{}
	for _, side := range []int{40, 64, 40} {
		img := image.NewGray(image.Rect(0, 0, side, side))
		for i := range img.Pix {
			img.Pix[i] = uint8(i * side)
		}
		h := &header{width: side, height: side}
		fresh, err := reduce(img, h, srgbSpace(), 3)
		require.NoError(t, err)
		h.spare = spare
		used, err := reduce(img, h, srgbSpace(), 3)
		require.NoError(t, err)
		assert.Equal(t, fresh, used)
		for i := range used.Pix {
			used.Pix[i] = 7
		}
		spare.Keep(used)
		assert.Nil(t, used.Pix)
	}
}

// What was given back is used again by the next photo that it is large enough
// for.
func TestSpareMemoryIsUsedAgain(t *testing.T) {
	spare := &Spare{}
	p := New(20, 10)
	first := &p.Pix[0]
	spare.Keep(p)
	assert.Same(t, first, &spare.components(300)[0])
	spare.Keep(New(2, 2))
	assert.Len(t, spare.components(300), 300)
	assert.Empty(t, spare.pix)
	var none *Spare
	none.Keep(New(1, 1))
	assert.Len(t, none.components(3), 3)
}
