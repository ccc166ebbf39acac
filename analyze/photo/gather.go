package photo

import (
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Gather turns arguments, files and folders, into the photos they name, in
// their order. A folder gives what it holds itself, in the order of names (by
// their bytes), and only what is a picture by its content; everything else in
// it is named in skipped, but for what the system puts there unasked (hidden
// files and folders that are no picture, Thumbs.db, desktop.ini) and what this
// program writes (greige-*.html, greige-*.json, greige-*.csv, greige-log.txt). Hidden
// pictures are named in skipped too: they may be what a phone keeps of deleted
// photos. A file given as itself is taken whatever it holds; Open tells.
// A file that is given twice, also by a link or by way of its folder, is
// taken where it comes first.
func Gather(args []string) (sources []Source, skipped []Skipped) {
	g := gatherer{seen: map[likeness][]os.FileInfo{}}
	for _, arg := range args {
		info, err := os.Stat(arg)
		switch {
		case err != nil:
			g.skip(arg, errOpening(err))
		case info.IsDir():
			g.folder(arg)
		default:
			g.take(arg, info)
		}
	}
	return g.sources, g.skipped
}

type gatherer struct {
	sources []Source
	skipped []Skipped
	// seen is what was taken, sorted by what the same file must share, so
	// that not every pair has to be compared.
	seen map[likeness][]os.FileInfo
}

type likeness struct {
	size     int64
	modified time.Time
}

func (g *gatherer) skip(name string, e *Error) {
	e.Photo = name
	g.skipped = append(g.skipped, e.Skipped)
}

// take adds a file that was not there yet.
func (g *gatherer) take(name string, info os.FileInfo) {
	key := likeness{info.Size(), info.ModTime().Round(0).UTC()}
	for _, other := range g.seen[key] {
		if os.SameFile(info, other) {
			return
		}
	}
	g.seen[key] = append(g.seen[key], info)
	g.sources = append(g.sources, Source{Name: name, Path: name})
}

func (g *gatherer) folder(folder string) {
	entries, err := os.ReadDir(folder)
	if err != nil && len(entries) == 0 {
		e := errOpening(err)
		e.Reason = strings.Replace(e.Reason, "file", "folder", 1)
		g.skip(folder, e)
		return
	}
	spoken := false // something of the folder is taken or named
	for _, entry := range entries {
		name := within(folder, entry.Name())
		hidden := strings.HasPrefix(entry.Name(), ".")
		if hidden && entry.IsDir() || litter(entry.Name()) {
			continue
		}
		info, err := os.Stat(name)
		switch {
		case err != nil:
			g.skip(name, errOpening(err))
		case info.IsDir():
			g.skip(name, skip("this is a folder inside the folder, which is not looked into", "give it by itself"))
		default:
			no := looksLikePhoto(name, info)
			switch {
			case hidden && no != nil:
				continue
			case no != nil:
				g.skip(name, no)
			case hidden:
				g.skip(name, skip("this is a hidden file", "give it by itself if it is wanted"))
			default:
				g.take(name, info)
			}
		}
		spoken = true
	}
	if !spoken {
		g.skip(folder, skip("there is no photo in the folder", "copy the photos into it"))
	}
}

// within is the path of a name in a folder that leaves the folder as it was
// given.
func within(folder, name string) string {
	if n := len(folder); n > 0 && os.IsPathSeparator(folder[n-1]) {
		return folder + name
	}
	return folder + string(filepath.Separator) + name
}

// litter tells the files that a system puts beside photos unasked without
// hiding them by name, and what this program writes.
func litter(name string) bool {
	name = strings.ToLower(name)
	switch name {
	case "thumbs.db", "desktop.ini", "ehthumbs.db", "icon\r":
		return true
	}
	switch filepath.Ext(name) {
	case ".html", ".json", ".csv", ".txt":
		return strings.HasPrefix(name, "greige-")
	}
	return false
}

// looksLikePhoto looks at a file's first bytes; nil means that it is to be
// opened.
func looksLikePhoto(path string, info os.FileInfo) *Error {
	if !info.Mode().IsRegular() {
		return skip("this is not a file", "give a photo that is saved as a file")
	}
	if info.Size() == 0 {
		return errEmpty()
	}
	f, err := os.Open(path)
	if err != nil {
		return errOpening(err)
	}
	defer f.Close()
	return sniff(&input{ReaderAt: f, size: info.Size()}).reason
}
