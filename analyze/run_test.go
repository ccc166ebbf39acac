package analyze

import (
	"context"
	"errors"
	"os"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Who is stopped begins nothing more and leaves nothing at work behind.
func TestStoppingLeavesNothing(t *testing.T) {
	for _, jobs := range []int{1, 3} {
		ctx, stop := context.WithCancel(context.Background())
		var begun, ended atomic.Int32
		err := Settings{Jobs: jobs}.each(ctx, 9, func(int) {
			begun.Add(1)
			stop()
			runtime.Gosched()
			ended.Add(1)
		})
		assert.ErrorIs(t, err, context.Canceled)
		assert.LessOrEqual(t, begun.Load(), int32(jobs))
		assert.Equal(t, begun.Load(), ended.Load())
		assert.ErrorIs(t, alone(ctx, func() error { return errors.New("failed") }), context.Canceled)
	}
}

// A fault of the program's own in one photo is told, and the others go on.
func TestAFaultTakesNothingDown(t *testing.T) {
	done := make([]bool, 9)
	err := Settings{Jobs: 2}.each(context.Background(), len(done), func(i int) {
		if i == 4 {
			panic("a fault")
		}
		done[i] = true
	})
	assert.ErrorContains(t, err, "the fault is the program's")
	for i, d := range done {
		assert.Equal(t, i != 4, d, i)
	}
	assert.ErrorContains(t, alone(context.Background(), func() error { panic("a fault") }), "the fault is the program's")
	failed := errors.New("failed")
	assert.ErrorIs(t, alone(context.Background(), func() error { return failed }), failed)
}

// A run that is stopped in the middle of its photos leaves no goroutine behind.
func TestAStoppedSortEndsWhole(t *testing.T) {
	path, _ := tablePhoto(t, 334)
	before := runtime.NumGoroutine()
	ctx, stop := context.WithCancel(context.Background())
	other := path + ".copy"
	require.NoError(t, os.WriteFile(other, must(os.ReadFile(path)), 0o600))
	_, err := Sort(ctx, []string{path, other}, SortOptions{Settings: Settings{Jobs: 1, Progress: func(int, int) { stop() }}})
	assert.ErrorIs(t, err, context.Canceled)
	for range 1000 { // a goroutine that has done its work takes a moment to end
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(time.Millisecond)
	}
	t.Errorf("%d goroutines are left", runtime.NumGoroutine()-before)
}
