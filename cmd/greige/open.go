package main

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/inconshreveable/mousetrap"
	"github.com/spf13/cobra"
	"golang.org/x/term"

	"greige/analyze"
	"greige/analyze/camera"
	"greige/report/open"
)

func newOpen() *cobra.Command {
	var opt open.Options
	var noBrowser bool
	f := withoutFlags()
	c := &cobra.Command{
		Use:   "open [FOLDER]",
		Short: "work in the browser: put photos in, and put right what was found",
		Long: `Serve a page to this computer only, and open it in the browser: put photos in, see
at once what was found drawn over them, and put it right by touch or by keyboard.

What you put right is kept at once in ` + analyze.CorrectionsFile + `, in the folder of the
photos, and every other command takes it with --corrections; what you asked and tried
in ` + open.PageFile + ` beside it. The photos themselves are never changed.

The page also shows your kept stash (greige stash), puts the cloths of a sort into it,
and teaches it your phone (greige camera learn).

--phone also serves a page that takes photos to phones in your home network, behind a
long random code that the page shows for the phone to scan. It ends with the program.`,
		Example: `  greige open
  greige open scraps/
  greige open scraps/ --phone`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				opt.Folder = args[0]
			}
			if opt.Port < 0 || opt.Port > 65535 {
				return &usage{fmt.Errorf("--port is 0 to 65535, not %d", opt.Port)}
			}
			var err error
			if opt.Settings, err = f.settings(c); err != nil {
				return err
			}
			for _, name := range []string{"light", "distance", "width", "max-megapixels"} {
				if c.Flags().Changed(name) {
					opt.Flags = append(opt.Flags, "--"+name, c.Flag(name).Value.String())
				}
			}
			opt.Stash, opt.Cameras = keptPlaces()
			opt.Version = version()
			opt.Log = c.ErrOrStderr()
			if !noBrowser {
				opt.Opened = func(address string) {
					if err := openAddress(address); err != nil {
						fmt.Fprintf(opt.Log, "greige: the browser could not be started\n  open %s yourself\n", address)
					}
				}
			}
			return open.Serve(c.Context(), opt)
		},
	}
	fs := c.Flags()
	fs.SortFlags = false
	fs.IntVar(&opt.Port, "port", 0, "the port to serve the page at, `N` (default: a free one)")
	fs.BoolVar(&noBrowser, "no-browser", false, "only say where the page is")
	fs.BoolVar(&opt.Phone, "phone", false, "also take photos from phones in the home network, by a code to scan")
	f.addLight(fs)
	f.addView(fs)
	f.addMegapixels(fs)
	return c
}

// keptPlaces are the file of the kept stash and the folder of the learned phones,
// as the commands have them; "" where the system names no place.
func keptPlaces() (stash, cameras string) {
	stash, _ = stashPath("") // the page says that there is no place
	return stash, camera.Place(os.Getenv, runtime.GOOS)
}

// byIcon tells whether the program was started by its icon: with no command, and
// with no terminal to show help in, or with one that Windows opened for it alone.
func byIcon(args []string) bool {
	for _, a := range args {
		if !strings.HasPrefix(a, "-psn_") { // what older systems of Apple's give with an icon
			return false
		}
	}
	if mousetrap.StartedByExplorer() {
		return true
	}
	for _, f := range []*os.File{os.Stdin, os.Stdout, os.Stderr} {
		if term.IsTerminal(int(f.Fd())) {
			return false
		}
	}
	return noInput()
}

// noInput: nothing is connected that could be read or written, as for a program
// that the desktop starts; a script that runs the program without a command has
// pipes or files and is shown the help.
func noInput() bool {
	for _, f := range []*os.File{os.Stdin, os.Stdout} {
		info, err := f.Stat()
		if err == nil && (info.Mode()&os.ModeNamedPipe != 0 || info.Mode().IsRegular() || info.Mode()&os.ModeSocket != 0) {
			return false
		}
	}
	return true
}

// homeFolder is where the page works when nobody says where: a folder of its own
// in the user's own one.
func homeFolder() (string, error) {
	home, err := os.UserHomeDir()
	if err != nil {
		return "", err
	}
	folder := filepath.Join(home, "greige")
	return folder, os.MkdirAll(folder, 0o755)
}

// openByIcon serves the page to whoever has nothing but the browser: it ends by
// itself after its page was closed, and what goes wrong stands in a file.
func openByIcon(c *cobra.Command) error {
	folder, err := homeFolder()
	if err != nil {
		return err
	}
	log, err := os.Create(filepath.Join(folder, "greige-log.txt"))
	if err != nil {
		return err
	}
	defer log.Close()
	opt := open.Options{Folder: folder, Version: version(), Log: log, EndWhenClosed: true}
	opt.Stash, opt.Cameras = keptPlaces()
	if opt.Settings.Light.Learned, err = learnedCameras("auto", log); err != nil {
		return err
	}
	opt.Opened = func(address string) {
		if err := openAddress(address); err != nil {
			fmt.Fprintf(log, "greige: the browser could not be started: open %s yourself\n", address)
		}
	}
	if err = open.Serve(c.Context(), opt); err != nil {
		complain(log, err)
	}
	return err
}
