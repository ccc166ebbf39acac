package main

import (
	"math"
	"runtime"
	"runtime/debug"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// Where little is in use the memory may grow to the room; where much is, the
// collector's own way comes back. What the user has set stands.
func TestRoom(t *testing.T) {
	limit := func() int64 { return debug.SetMemoryLimit(-1) }
	before, percent := limit(), debug.SetGCPercent(100)
	t.Cleanup(func() {
		debug.SetMemoryLimit(before)
		debug.SetGCPercent(percent)
	})
	t.Setenv("GOGC", "90")
	useRoom()
	assert.Equal(t, before, limit())
	t.Setenv("GOGC", "")
	t.Setenv("GOMEMLIMIT", "")
	useRoom()
	assert.EqualValues(t, roomy, limit())
	much := make([]byte, roomy)
	assert.Eventually(t, func() bool { runtime.GC(); return limit() == math.MaxInt64 }, 10*time.Second, time.Millisecond)
	runtime.KeepAlive(much)
}
