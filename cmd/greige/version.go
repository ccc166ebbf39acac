package main

import "runtime/debug"

// release is set when a release is built; otherwise the version is the
// module's own, or "dev".
var release string

func version() string {
	if release != "" {
		return release
	}
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" && info.Main.Version != "(devel)" {
		return info.Main.Version
	}
	return "dev"
}
