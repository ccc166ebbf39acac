package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// A single photo has no steps to count: after a while seconds are shown, until the
// bar is taken away; photos that are counted are shown as such.
func TestBarOfASinglePhoto(t *testing.T) {
	shown := make(written, 64)
	b := &bar{w: shown, on: true, began: time.Now().Add(-7 * time.Second), ended: make(chan struct{})}
	go b.wait(b.ended, time.Nanosecond, time.Hour)
	assert.Equal(t, "\rmeasuring, 7 seconds so far\x1b[K", <-shown)
	b.step(1, 1) // says nothing more than the seconds do
	b.clear()
	assert.Equal(t, "\r\x1b[K", <-shown)
	assert.Empty(t, shown)

	b = &bar{w: shown, on: true, began: time.Now(), ended: make(chan struct{})}
	b.step(6, 12)
	assert.Equal(t, "\r############............ 6 of 12 photos\x1b[K", <-shown)
}

// written is what was written, a write each.
type written chan string

func (w written) Write(p []byte) (int, error) {
	w <- string(p)
	return len(p), nil
}
