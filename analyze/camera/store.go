package camera

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"greige/analyze/fit"
)

// Identity is by what a photo's record names the camera that took it. Two lenses of
// one phone are two cameras.
type Identity struct {
	Make  string `json:"make,omitempty"`
	Model string `json:"model,omitempty"`
	Lens  string `json:"lens,omitempty"`
}

// Known tells whether the record names a camera at all.
func (i Identity) Known() bool { return i.Make != "" || i.Model != "" }

// String returns the identity in words.
func (i Identity) String() string {
	s := strings.TrimSpace(i.Make + " " + i.Model)
	if strings.HasPrefix(strings.ToLower(i.Model), strings.ToLower(i.Make)) {
		s = i.Model
	}
	if i.Lens != "" && !strings.Contains(s, i.Lens) {
		s += ", " + i.Lens
	}
	return s
}

// Taught is one photo that a camera was learned from.
type Taught struct {
	Photo  string `json:"photo"`
	SHA256 string `json:"sha256"`
	Date   string `json:"date,omitempty"` // on which the photo was taken, 2024-03-09; "" where the record does not say
	By     string `json:"by"`             // "cards", "chart" or "exposures"
}

// Kept is one camera that was learned, as it is kept in a file.
type Kept struct {
	Name string
	Identity
	Photos  []Taught
	Learned *Learned
}

// From tells whether a photo with these bytes has taught the camera already.
func (k *Kept) From(sha256 string) bool {
	return slices.ContainsFunc(k.Photos, func(t Taught) bool { return t.SHA256 == sha256 })
}

// Schema names the file's layout, basisVersion the mean and the basis functions that
// its weights belong to: a change of any makes older files useless, and they say so.
const (
	Schema       = "greige-camera/1"
	schemaFamily = "greige-camera/"
	basisVersion = 2
)

// file is a Kept as JSON. Covariance is its lower triangle, row by row.
type file struct {
	Schema string `json:"schema"`
	Basis  int    `json:"basis"`
	Name   string `json:"name"`
	Identity
	Photos     []Taught    `json:"learned_from"`
	Weights    []float64   `json:"weights"`
	Covariance [][]float64 `json:"covariance"`
}

// Encode returns k as JSON. The same k gives the same bytes.
func (k *Kept) Encode() ([]byte, error) {
	f := file{Schema: Schema, Basis: basisVersion, Name: k.Name, Identity: k.Identity, Photos: k.Photos, Weights: k.Learned.weights}
	for i, row := range k.Learned.cov {
		f.Covariance = append(f.Covariance, row[:i+1])
	}
	data, err := json.MarshalIndent(f, "", " ")
	return append(data, '\n'), err
}

// largestFile is more than any such file takes, in bytes: some 70 weights with their
// covariance are 60 kB.
const largestFile = 4 << 20

// Decode reads what Encode wrote. The error says in one clause what is wrong with it.
func Decode(data []byte) (*Kept, error) {
	var head struct {
		Schema string `json:"schema"`
		Basis  int    `json:"basis"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return nil, errors.New("it is damaged: it is no JSON, or cut short")
	}
	switch {
	case head.Schema != Schema && strings.HasPrefix(head.Schema, schemaFamily):
		return nil, fmt.Errorf("it was written by another version of greige (%s; this one reads %s)", head.Schema, Schema)
	case head.Schema != Schema:
		return nil, fmt.Errorf("it is no camera that greige has learned (its schema is not %s)", Schema)
	case head.Basis != basisVersion:
		return nil, fmt.Errorf("it was learned by another version of the model (%d; this one has %d)", head.Basis, basisVersion)
	}
	var f file
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&f); err != nil {
		return nil, errors.New("it is damaged: a field of it is not as it should be")
	}
	l, err := f.learned()
	if err != nil {
		return nil, fmt.Errorf("it is damaged: %w", err)
	}
	if !goodName.MatchString(f.Name) || !f.Known() || len(f.Photos) == 0 {
		return nil, errors.New("it is damaged: it does not name its camera or its photos")
	}
	return &Kept{Name: f.Name, Identity: f.Identity, Photos: f.Photos, Learned: l}, nil
}

// learned checks the figures: as many as the basis has, a covariance that can be one,
// and nowhere more doubt than before anything was learned.
func (f *file) learned() (*Learned, error) {
	if len(f.Weights) != exposure || len(f.Covariance) != exposure {
		return nil, errors.New("figures are missing, or there are too many")
	}
	l := &Learned{weights: f.Weights, cov: make([][]float64, exposure)}
	for i := range l.cov {
		l.cov[i] = make([]float64, exposure)
	}
	// Twenty standard deviations of the prior are no camera's.
	const far = 20
	for i, row := range f.Covariance {
		if len(row) != i+1 || math.Abs(f.Weights[i]) > far {
			return nil, errors.New("its figures are out of range")
		}
		for j, v := range row {
			l.cov[i][j], l.cov[j][i] = v, v
		}
		if v := row[i]; !(v >= 0 && v <= shared+1e-6) {
			return nil, errors.New("its figures are out of range")
		}
	}
	if _, err := fit.NewCholesky(slices.Concat(l.cov...), exposure); err != nil {
		return nil, errors.New("its figures are out of range")
	}
	return l, nil
}

// goodName is what a camera may be called: it is also the name of its file.
var goodName = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)

// GoodName tells whether a camera may be called so: letters from a to z, digits and
// hyphens, 40 at the most. The names of the flag's other values are taken.
func GoodName(name string) bool {
	return goodName.MatchString(name) && name != "auto" && name != "none"
}

// NameFor is a name made of the camera's model.
func NameFor(i Identity) string {
	if i.Model == "" {
		i.Model = i.Make
	}
	name := strings.Trim(regexp.MustCompile(`[^a-z0-9]+`).ReplaceAllString(strings.ToLower(i.Model), "-"), "-")
	if name = strings.Trim(name[:min(len(name), 40)], "-"); !GoodName(name) {
		return "camera"
	}
	return name
}

// Place returns the folder of the learned cameras: what the variable GREIGE_CAMERAS
// says, or else the folder cameras in the one that the system goos gives each user for
// the data of programs. getenv looks variables up. It is "" where the system tells no
// such folder.
func Place(getenv func(string) string, goos string) string {
	if own := getenv("GREIGE_CAMERAS"); own != "" {
		return own
	}
	folder, err := DataFolder(getenv, goos)
	if err != nil {
		return ""
	}
	return filepath.Join(folder, "cameras")
}

// DataFolder is greige's folder among the data of a user: on Linux and its like
// $XDG_DATA_HOME/greige or ~/.local/share/greige (XDG Base Directory Specification),
// on macOS ~/Library/Application Support/greige, on Windows %LocalAppData%\greige.
// env gives the environment's variables.
func DataFolder(env func(string) string, system string) (string, error) {
	under := func(variable string, more ...string) (string, error) {
		folder := env(variable)
		if folder == "" {
			return "", fmt.Errorf("the system names no folder for it: %s is not set", variable)
		}
		return filepath.Join(append(append([]string{folder}, more...), "greige")...), nil
	}
	switch {
	case system == "windows":
		return under("LocalAppData")
	case system == "darwin":
		return under("HOME", "Library", "Application Support")
	case filepath.IsAbs(env("XDG_DATA_HOME")): // another has to be ignored, the specification says
		return under("XDG_DATA_HOME")
	}
	return under("HOME", ".local", "share")
}

// Shelf is the cameras that were learned, by name. It is not changed by reading it.
type Shelf struct {
	Cameras []*Kept
	// All is the camera that all photos are taken for, whatever their record says;
	// nil: each photo's own.
	All *Kept
}

// ReadShelf reads a folder of learned cameras. A folder that is not there has none.
// A file that cannot be used is left alone; problems says why, one line a file.
func ReadShelf(folder string) (s *Shelf, problems []error) {
	s = &Shelf{}
	entries, err := os.ReadDir(folder)
	if folder == "" || errors.Is(err, fs.ErrNotExist) {
		return s, nil
	}
	if err != nil {
		return s, []error{fmt.Errorf("%q: the folder of the learned cameras cannot be read", folder)}
	}
	for _, e := range entries { // sorted by name
		if e.IsDir() || filepath.Ext(e.Name()) != ".json" {
			continue
		}
		path := filepath.Join(folder, e.Name())
		k, err := readKept(path)
		if err == nil && k.Name+".json" != e.Name() {
			err = fmt.Errorf("it belongs to the camera %s and was renamed", k.Name)
		}
		if err == nil && s.For(k.Identity) != nil {
			err = fmt.Errorf("the camera it is about is kept as %s already", s.For(k.Identity).Name)
		}
		if err != nil {
			problems = append(problems, fmt.Errorf("%q: this learned camera is not used: %w", path, err))
			continue
		}
		s.Cameras = append(s.Cameras, k)
	}
	return s, problems
}

func readKept(path string) (*Kept, error) {
	info, err := os.Stat(path)
	if err != nil || info.Size() > largestFile || !info.Mode().IsRegular() {
		return nil, errors.New("it cannot be read")
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, errors.New("it cannot be read")
	}
	return Decode(data)
}

// For returns the camera that a record names; nil where none was learned.
func (s *Shelf) For(i Identity) *Kept {
	switch {
	case s == nil:
		return nil
	case s.All != nil:
		return s.All
	case !i.Known():
		return nil
	}
	for _, k := range s.Cameras {
		if k.Identity == i {
			return k
		}
	}
	return nil
}

// Named returns the camera of that name, or nil.
func (s *Shelf) Named(name string) *Kept {
	for _, k := range s.Cameras {
		if k.Name == name {
			return k
		}
	}
	return nil
}

// Write keeps a camera in the folder, which is made if it is missing. The file appears
// whole or not at all.
func (k *Kept) Write(folder string) error {
	data, err := k.Encode()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	temp, err := os.CreateTemp(folder, ".camera-*")
	if err != nil {
		return err
	}
	defer os.Remove(temp.Name()) // does nothing once it was renamed
	_, err = temp.Write(data)
	if err = errors.Join(err, temp.Sync(), temp.Close()); err != nil {
		return err
	}
	return os.Rename(temp.Name(), k.Path(folder))
}

// Path is where a camera is kept in a folder.
func (k *Kept) Path(folder string) string { return filepath.Join(folder, k.Name+".json") }
