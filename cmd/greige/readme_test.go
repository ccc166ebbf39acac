package main

import (
	"bytes"
	"context"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/scene"
)

// examples are the lines of the README's code blocks that call greige.
func examples(readme string) (out []string) {
	code := false
	for line := range strings.Lines(readme) {
		line = strings.TrimSpace(line)
		if strings.HasPrefix(line, "```") {
			code = !code
		} else if code && strings.HasPrefix(line, "greige ") && demosOwn(line) {
			out = append(out, line)
		}
	}
	return out
}

// demosOwn: the example is about the demo's photos, and not about a stash of the
// reader's own or a plan out of it.
func demosOwn(line string) bool {
	for _, own := range []string{"greige stash", "greige plan", "greige camera", "kept", "scraps/", "&&"} {
		if strings.Contains(line, own) {
			return false
		}
	}
	return true
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

// Every example of the README works on the demo's photos as it stands.
func TestExamplesOfTheReadme(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	lines := examples(string(readme))
	require.GreaterOrEqual(t, len(lines), 9)
	shots, err := scene.Demo(1, 0)
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	require.NoError(t, scene.Write(".", shots...))
	for _, line := range lines {
		args := slices.DeleteFunc(words(line)[1:], func(s string) bool { return s == "--open" })
		var stdout, stderr bytes.Buffer
		status := run(context.Background(), args, &stdout, &stderr)
		require.Zero(t, status, "%s\n%s", line, stderr.String())
		require.NotEmpty(t, stdout.String(), line)
	}
}
