// Package roll holds what belongs to one test: which scans, at which stops, and
// everything that the judge made. It reads and writes the roll file (a
// versioned JSON document, extension .stopladder) and keeps a recovery copy of
// unsaved work.
//
// # The roll file
//
// assets/schema/roll-1.json describes every member; an example:
//
//	{
//	  "format": "stopladder roll",
//	  "version": 1,
//	  "title": "Courtyard in sun",
//	  "baseExposure": "f/11 1/125, incident",
//	  "noisyLimit": 3,
//	  "baseFrame": "scans/base.tif",
//	  "frames": [
//	    {
//	      "file": "scans/base.tif",
//	      "sha256": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
//	      "bytes": 300000000,
//	      "stop": 0,
//	      "stopFrom": "name",
//	      "verdict": "holds",
//	      "note": "sky a little thin",
//	      "imageArea": {"x": 120, "y": 96, "w": 6700, "h": 6700}
//	    }
//	  ],
//	  "marks": [{"judge": "A", "range": {"lo": -1.5, "hi": 2.25},
//	             "finding": "Give it more light rather than less."}]
//	}
//
// Empty members are left out when saving. Paths are relative to the folder of the
// roll file, with forward slashes on every system, so that a roll and its scans can
// be moved together; only a scan on another drive keeps its absolute path. Members
// that this program does not know are kept and written back. A version above
// Version is refused.
//
// The file is not trusted: its size, the number of frames and the length of every
// text are bounded, and control characters have no place in paths and lines. What
// is out of bounds is left out or replaced and told as a Problem.
//
// # Saving
//
// Save replaces the file in one step and keeps the version before it: beside
// NAME.stopladder stands NAME.previous.stopladder, an ordinary roll file. A save
// that fails or is killed leaves the file as it was; at worst a hidden file
// .stopladder-*.part remains, which a later save removes after a day.
//
// # Recovery
//
// A Journal keeps one copy of the unsaved work of a session, in a folder of the
// program's own. The
// system's file lock tells whether the session lives, so that a copy is offered
// only after a crash and only to one window.
package roll
