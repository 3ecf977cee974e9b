package main

import (
	"context"
	"fmt"
	"io"
	"runtime/debug"
)

// version is set by the linker where a release is built (-X main.version=…).
var version string

// showVersion prints which program this is.
func showVersion(_ context.Context, _ []string, out, _ io.Writer) error {
	fmt.Fprintln(out, versionText())
	return nil
}

// versionText is the release, the commit that it was built of, and the toolchain, as far as they are known.
func versionText() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "meniscus, built without information"
	}
	settings := map[string]string{}
	for _, s := range info.Settings {
		settings[s.Key] = s.Value
	}
	name := version
	if name == "" {
		name = info.Main.Version
	}
	text := "meniscus " + name
	if commit := settings["vcs.revision"]; commit != "" {
		text += ", commit " + commit + " of " + settings["vcs.time"]
		if settings["vcs.modified"] == "true" {
			text += ", changed since"
		}
	}
	return text + ", " + info.GoVersion
}
