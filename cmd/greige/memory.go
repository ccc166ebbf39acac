package main

import (
	"math"
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
)

// roomy is the memory, in bytes, that the work on one photo takes at its
// widest.
const roomy = 64 << 20

// asksStash tells whether a command line is about cloths that are kept: those were
// measured before, so that the room for a photo would only be filled with leavings.
func asksStash(args []string) bool {
	return len(args) > 1 && args[0] == "stash" && args[1] != "add"
}

// useLittle has the memory looked through for use again when what is in use has grown
// by a third, so that an answer out of a large stash, which is read as it is written, takes
// little more than one out of a small one. What the user has set for it stands.
func useLittle() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(33)
	}
}

// useRoom lets the memory grow to what one photo takes anyway before any of it
// is looked through for use again: the collector, which waits for what is in
// use to double, would look seven times in half a second. Where much stays in
// use, as with several photos at a time, it goes back to the collector's own
// way. What the user has set for it stands.
func useRoom() {
	if os.Getenv("GOGC") != "" || os.Getenv("GOMEMLIMIT") != "" {
		return
	}
	debug.SetGCPercent(-1)
	debug.SetMemoryLimit(roomy)
	var look func(*[16]byte)
	look = func(mark *[16]byte) { // after each collection
		live := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
		metrics.Read(live)
		if live[0].Value.Uint64() > roomy*5/8 {
			debug.SetGCPercent(50)
			debug.SetMemoryLimit(math.MaxInt64)
			return
		}
		runtime.SetFinalizer(mark, look)
	}
	runtime.SetFinalizer(new([16]byte), look)
}
