package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/scene"
)

// examples are the lines of the README's code blocks that call greige, but for
// those that go on until they are stopped (greige open).
func examples(readme string) (out []string) {
	code := false
	for line := range strings.Lines(readme) {
		line = strings.TrimSpace(line)
		if strings.HasPrefix(line, "```") {
			code = !code
		} else if code && strings.HasPrefix(line, "greige ") && !strings.HasPrefix(line, "greige open ") {
			out = append(out, line)
		}
	}
	return out
}

// words divides a line as a shell does, as far as the README goes: by spaces
// outside double quotes.
func words(line string) []string {
	var out []string
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			out = append(out, part)
		} else {
			out = append(out, strings.Fields(part)...)
		}
	}
	return out
}

// Every example of the README works on the demo's photos as it stands, one after
// the other, with a stash of its own.
func TestExamplesOfTheReadme(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	lines := examples(string(readme))
	for _, command := range []string{"sort", "layout", "border", "stash add", "stash find", "stash use", "plan"} {
		require.True(t, slices.ContainsFunc(lines, func(l string) bool { return strings.HasPrefix(l, "greige "+command+" ") }), command)
	}
	shots, err := scene.Demo(1, 0)
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	t.Setenv("GREIGE_STASH", filepath.Join(t.TempDir(), "stash.db"))
	require.NoError(t, scene.Write(".", shots...))
	for _, line := range lines {
		args := slices.DeleteFunc(words(line)[1:], func(s string) bool { return s == "--open" })
		var stdout, stderr bytes.Buffer
		status := run(context.Background(), args, &stdout, &stderr)
		require.Zero(t, status, "%s\n%s", line, stderr.String())
		require.NotEmpty(t, stdout.String(), line)
	}
}
