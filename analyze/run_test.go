package analyze

import (
	"context"
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Work that never ends does not keep a person who stops the program.
func TestStoppingDoesNotWait(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	begun := make(chan struct{}, 3)
	for name, work := range map[string]func() error{
		"alone": func() error { return alone(ctx, func() error { begun <- struct{}{}; select {} }) },
		"each":  func() error { return Settings{Jobs: 2}.each(ctx, 2, func(int) { begun <- struct{}{}; select {} }) },
		"queue": func() error { return Settings{Jobs: 1}.each(ctx, 9, func(int) { begun <- struct{}{}; select {} }) },
	} {
		done := make(chan error)
		go func() { done <- work() }()
		<-begun
		stop()
		assert.ErrorIs(t, <-done, context.Canceled, name)
		ctx, stop = context.WithCancel(context.Background())
	}
	stop()
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
