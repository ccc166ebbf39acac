package border

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"greige/analyze/piles"
)

// A mid-green of L* 53 is no light, though it be the lightest of its handful,
// and the palest handful has no dark.
func TestMidTonesAreNoLights(t *testing.T) {
	assert.Equal(t, piles.Medium, roleAt(53, 20, 53))
	assert.Equal(t, piles.Dark, roleAt(20, 20, 53))
	assert.Equal(t, piles.Light, roleAt(85, 20, 85))
	assert.Equal(t, piles.Medium, roleAt(70, 70, 92))
}
