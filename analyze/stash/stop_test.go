//go:build unix

package stash

import (
	"bufio"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The test program run again as a child adds photos until it is stopped; what
// it is to do stands in this variable.
const childEnv = "GREIGE_STASH_CHILD"

func TestMain(m *testing.M) {
	if job := os.Getenv(childEnv); job != "" {
		child(strings.Split(job, "|"))
		return
	}
	os.Exit(m.Run())
}

// clothsEach is how many cloths the child's photos have.
const clothsEach = 6

// child adds photos first, first+1 and so on, count of them, to the stash at
// path, and says of each when it is in; the file may have limit bytes.
func child(job []string) {
	first, _ := strconv.Atoi(job[1])
	count, _ := strconv.Atoi(job[2])
	if limit, _ := strconv.ParseUint(job[3], 10, 64); limit > 0 {
		signal.Ignore(syscall.SIGXFSZ)
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: limit, Max: limit}); err != nil {
			fmt.Println("limit", err)
			os.Exit(2)
		}
	}
	s, err := Create(job[0])
	if err != nil {
		fmt.Println("failed", err)
		os.Exit(1)
	}
	for i := first; i < first+count; i++ {
		if _, err := s.Add(ctx, []Photo{childPhoto(i)}); err != nil {
			fmt.Println("failed", err)
			os.Exit(1)
		}
		fmt.Println("in", i)
	}
	s.Close()
}

func childPhoto(i int) Photo {
	p := photoOf(numbered(i))
	for j := range clothsEach {
		f := plainCloth(float64(10+j*10), 0, 0)
		f.Swatch = swatch(60, f.Lab)
		p.Fabrics = append(p.Fabrics, f)
	}
	return p
}

func startChild(t *testing.T, path string, first, count int, limit uint64) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	c := exec.Command(os.Args[0], "-test.run", "^$")
	c.Env = append(os.Environ(), fmt.Sprintf("%s=%s|%d|%d|%d", childEnv, path, first, count, limit))
	out, err := c.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, c.Start())
	return c, bufio.NewScanner(out)
}

// assertWhole: the file is sound, every photo in it has all its cloths and
// their pictures, and every one of told is there.
func assertWhole(t *testing.T, path string, told []int) {
	t.Helper()
	s, err := Create(path)
	require.NoError(t, err)
	defer s.Close()
	var state string
	require.NoError(t, s.db.QueryRow("PRAGMA integrity_check").Scan(&state))
	require.Equal(t, "ok", state)
	var broken int
	require.NoError(t, s.db.QueryRow(`SELECT count(*) FROM photos p WHERE ? <> (SELECT count(*) FROM cloths c JOIN keys k ON k.cloth = c.id JOIN pictures i ON i.cloth = c.id WHERE c.photo = p.id)`, clothsEach).Scan(&broken))
	require.Zero(t, broken)
	for _, i := range told {
		known, err := s.Known(ctx, []Hash{childPhoto(i).Hash})
		require.NoError(t, err)
		require.Len(t, known, 1, "photo %d was said to be in", i)
	}
	find(t, s, Query{})
}

// Killed at whatever moment, the program leaves the last good state: all that it
// said was in is in, and nothing by halves.
func TestKilledAtAnyMoment(t *testing.T) {
	path := filepath.Join(t.TempDir(), "stash.db")
	r := rand.New(rand.NewPCG(77, 1))
	var told []int
	next := 0
	for round := range 25 {
		c, lines := startChild(t, path, next, 1<<20, 0)
		// At the start, while the file is made, or some photos on.
		wait := 0
		if round%5 > 0 {
			wait = 1 + r.IntN(4)
		}
		for range wait {
			require.True(t, lines.Scan())
			require.Equal(t, fmt.Sprint("in ", next), lines.Text())
			told = append(told, next)
			next++
		}
		time.Sleep(time.Duration(r.IntN(12_000)) * time.Microsecond)
		require.NoError(t, c.Process.Kill())
		for lines.Scan() { // what it said meanwhile
			require.Equal(t, fmt.Sprint("in ", next), lines.Text())
			told = append(told, next)
			next++
		}
		_ = c.Wait()
		assertWhole(t, path, told)
		next++ // it may be in, unsaid
	}
	assert.NotEmpty(t, told)
}

// On a full disk (a limit on the size of files stands in for it) the last good
// state stays, and it is said.
func TestFullDisk(t *testing.T) {
	for _, limit := range []uint64{2_000, 30_000, 90_000, 150_000, 151_000, 153_000} {
		path := filepath.Join(t.TempDir(), "stash.db")
		c, lines := startChild(t, path, 0, 1<<20, limit)
		var told []int
		said := ""
		for lines.Scan() {
			if n, ok := strings.CutPrefix(lines.Text(), "in "); ok {
				i, err := strconv.Atoi(n)
				require.NoError(t, err)
				told = append(told, i)
				continue
			}
			said = lines.Text()
		}
		assert.Error(t, c.Wait())
		assert.Regexp(t, "disk is full|disk did not take", said, "limit %d", limit)
		assertWhole(t, path, told)
		if limit > 100_000 {
			assert.NotEmpty(t, told)
		}
	}
}

// The same where the database itself says that it is full.
func TestFullDatabase(t *testing.T) {
	s := create(t)
	add(t, s, childPhoto(0))
	before := saved(t, s)
	var pages int
	require.NoError(t, s.db.QueryRow("PRAGMA page_count").Scan(&pages))
	_, err := s.db.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", pages+3))
	require.NoError(t, err)
	var many []Photo
	for i := range 20 {
		many = append(many, childPhoto(i+1))
	}
	_, err = s.Add(ctx, many)
	assert.EqualError(t, err, "the disk is full; the stash is as it was before")
	assert.Equal(t, before, saved(t, s))
}

// Two programs that add at once wait for each other.
func TestTwoProgramsAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "stash.db")
	const each = 15
	var all sync.WaitGroup
	for first := range 2 {
		all.Go(func() {
			c, lines := startChild(t, path, first*each, each, 0)
			said := ""
			for lines.Scan() {
				said = lines.Text()
			}
			assert.NoError(t, c.Wait(), said)
		})
	}
	all.Wait()
	var told []int
	for i := range 2 * each {
		told = append(told, i)
	}
	assertWhole(t, path, told)
}

// One that is not let in says so, and lets others read meanwhile.
func TestBusyIsSaid(t *testing.T) {
	path := filepath.Join(t.TempDir(), "stash.db")
	s, err := open(path, true, options{wait: 20 * time.Millisecond, steps: steps})
	require.NoError(t, err)
	defer s.Close()
	add(t, s, childPhoto(0))
	db, err := sql.Open("sqlite", path)
	require.NoError(t, err)
	defer db.Close()
	db.SetMaxOpenConns(1)
	_, err = db.Exec("BEGIN IMMEDIATE")
	require.NoError(t, err)
	_, err = s.Add(ctx, []Photo{childPhoto(1)})
	assert.EqualError(t, err, "another program is using the stash")
	assert.Len(t, find(t, s, Query{}).Hits, clothsEach)
	_, err = db.Exec("ROLLBACK")
	require.NoError(t, err)
	add(t, s, childPhoto(1))
}
