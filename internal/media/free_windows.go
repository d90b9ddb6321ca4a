package media

import "golang.org/x/sys/windows"

// freeBytes is what is left for us on the disk with the path.
func freeBytes(path string) (int64, error) {
	name, err := windows.UTF16PtrFromString(path)
	if err != nil {
		return 0, err
	}
	var free uint64
	if err := windows.GetDiskFreeSpaceEx(name, &free, nil, nil); err != nil {
		return 0, err
	}
	return int64(free), nil
}
