package infer

import (
	"fmt"
	"unsafe"

	"github.com/ebitengine/purego"
)

// apiVersion is the version of the table that is asked for: old enough for
// any library of the last years, new enough for all entries below.
const apiVersion = 14

// entry is the place of a function in the table OrtApi.
type entry int

// Places in OrtApi, as its header lists them.
const (
	getErrorCode                   entry = 1
	getErrorMessage                entry = 2
	createEnv                      entry = 3
	disableTelemetryEvents         entry = 6
	createSession                  entry = 7
	createSessionFromArray         entry = 8
	run                            entry = 9
	createSessionOptions           entry = 10
	setSessionExecutionMode        entry = 13
	setGraphOptimizationLevel      entry = 23
	setIntraOpNumThreads           entry = 24
	setInterOpNumThreads           entry = 25
	sessionGetInputCount           entry = 30
	sessionGetOutputCount          entry = 31
	sessionGetInputTypeInfo        entry = 33
	sessionGetOutputTypeInfo       entry = 34
	sessionGetInputName            entry = 36
	sessionGetOutputName           entry = 37
	createTensorWithDataAsOrtValue entry = 49
	castTypeInfoToTensorInfo       entry = 55
	getTensorElementType           entry = 60
	getDimensionsCount             entry = 61
	getDimensions                  entry = 62
	createCPUMemoryInfo            entry = 69
	allocatorFree                  entry = 76
	getDefaultAllocator            entry = 78
	releaseEnv                     entry = 92
	releaseStatus                  entry = 93
	releaseMemoryInfo              entry = 94
	releaseSession                 entry = 95
	releaseValue                   entry = 96
	releaseTypeInfo                entry = 98
	releaseSessionOptions          entry = 100
	addSessionConfigEntry          entry = 130
	entries                              = 131
)

// Values of the C enumerations used.
const (
	logError         = 3  // ORT_LOGGING_LEVEL_ERROR
	sequential       = 0  // ORT_SEQUENTIAL
	optimizeAll      = 99 // ORT_ENABLE_ALL
	elementFloat     = 1  // ONNX_TENSOR_ELEMENT_DATA_TYPE_FLOAT
	arenaAllocator   = 1  // OrtArenaAllocator
	memoryDefault    = 0  // OrtMemTypeDefault
	longestMessage   = 4096
	longestName      = 256
	largestTensor    = 1 << 26
	largestRank      = 8
	largestPortCount = 64
)

// table is the functions of a loaded library.
type table [entries]uintptr

// StatusError is what the library says when a call fails.
type StatusError struct {
	Code    int // OrtErrorCode
	Message string
}

// Error gives the library's own words.
func (e *StatusError) Error() string { return e.Message }

// call runs a function that gives a status, and turns that into an error.
// Pointers among args must be converted in the call itself, so that what they
// point to stays where it is until the function returns.
//
//go:uintptrescapes
func (t *table) call(f entry, args ...uintptr) error {
	status, _, _ := purego.SyscallN(t[f], args...)
	if status == 0 {
		return nil
	}
	code, _, _ := purego.SyscallN(t[getErrorCode], status)
	text, _, _ := purego.SyscallN(t[getErrorMessage], status)
	err := &StatusError{Code: int(int32(code)), Message: goString(text, longestMessage)}
	purego.SyscallN(t[releaseStatus], status)
	return err
}

// release runs a function that frees what p points to; nothing for none.
func (t *table) release(f entry, p uintptr) {
	if p != 0 {
		purego.SyscallN(t[f], p)
	}
}

// openTable asks a loaded library's OrtGetApiBase for its functions.
func openTable(getAPIBase uintptr) (*table, string, error) {
	base, _, _ := purego.SyscallN(getAPIBase)
	if base == 0 {
		return nil, "", fmt.Errorf("it gives no table of functions")
	}
	head := (*[2]uintptr)(foreign(base)) // GetApi, GetVersionString
	text, _, _ := purego.SyscallN(head[1])
	version := goString(text, longestName)
	api, _, _ := purego.SyscallN(head[0], apiVersion)
	if api == 0 {
		return nil, version, fmt.Errorf("its version %q is too old", version)
	}
	return (*table)(foreign(api)), version, nil
}

// foreign turns an address in the library's memory into a pointer. The memory
// is not Go's, so nothing can move it.
func foreign(address uintptr) unsafe.Pointer {
	return *(*unsafe.Pointer)(unsafe.Pointer(&address))
}

// goString copies a C string, at most limit bytes.
func goString(address uintptr, limit int) string {
	if address == 0 {
		return ""
	}
	p := foreign(address)
	n := 0
	for n < limit && *(*byte)(unsafe.Add(p, n)) != 0 {
		n++
	}
	return string(unsafe.Slice((*byte)(p), n))
}

// cString is text with a zero behind it.
func cString(s string) []byte { return append([]byte(s), 0) }
