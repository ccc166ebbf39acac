package main

import (
	"fmt"
	"image"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"greige/analyze/raster"
)

// stages writes the picture of every stage of the work into a folder, for whoever
// looks for where a wrong answer comes from (DEVELOPERS.md has the table).
type stages struct {
	dir  string
	warn io.Writer // told once, when a picture cannot be written

	mu   sync.Mutex
	n    map[string]int // how many of each photo
	fail bool
}

// newStages makes the folder.
func newStages(dir string, warn io.Writer) (*stages, error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, &usage{fmt.Errorf("--stages: the folder cannot be made: %w", err)}
	}
	return &stages{dir: dir, warn: warn, n: map[string]int{}}, nil
}

// of shows the stages of one photo: files are named by the photo, the order of the
// stages and what they show.
func (s *stages) of(photo string) raster.Look {
	return func(stage string, picture image.Image) {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.n[photo]++
		name := fmt.Sprintf("%s %02d %s.png", plainName(filepath.Base(photo)), s.n[photo], plainName(stage))
		if err := s.write(filepath.Join(s.dir, name), picture); err != nil && !s.fail {
			s.fail = true
			fmt.Fprintf(s.warn, "greige: the pictures of the stages: %v\n", err)
		}
	}
}

func (s *stages) write(path string, picture image.Image) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := png.Encode(f, picture); err != nil {
		f.Close()
		return fmt.Errorf("%s: %w", path, err)
	}
	return f.Close()
}

// plainName is text as part of a file's name on every system.
func plainName(text string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' || r == '.' || r == ',' || '0' <= r && r <= '9' || 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z' {
			return r
		}
		return '_'
	}, text)
}
