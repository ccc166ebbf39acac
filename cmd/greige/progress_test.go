package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestTimeLeft(t *testing.T) {
	for _, c := range []struct {
		gone        time.Duration
		done, total int
		says        string
	}{
		{time.Second, 3, 100, ""}, // too early to tell
		{10 * time.Second, 2, 100, ""},
		{10 * time.Second, 10, 40, ", about 30 seconds left"},
		{10 * time.Second, 10, 1000, ", about 17 minutes left"}, // 990 s
		{10 * time.Second, 10, 10, ""},
	} {
		assert.Equal(t, c.says, timeLeft(c.gone, c.done, c.total))
	}
}
