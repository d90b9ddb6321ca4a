// Package drills holds the drills that come with the program, one file an
// area, and gives them to package plan, which reads and checks them.
package drills

import (
	"embed"
	"io/fs"
)

//go:embed *.json
var files embed.FS

// Files gives the folder of drills.
func Files() fs.FS { return files }
