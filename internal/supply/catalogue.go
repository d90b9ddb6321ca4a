package supply

import "plumbstride/internal/convert"

// Package is an npm package, known by its hash.
type Package struct {
	Name    string
	Version string
	File    string // what npm calls the packed file
	Size    int64  // of the packed file, bytes
	SHA256  string // of the packed file, hex
	Licence string // SPDX
}

// member is one file of a tarball.
type member struct {
	path   string // inside the tarball, below "package/"
	size   int64
	sha256 string
}

// model is a network: its source and what it becomes.
type model struct {
	name   string // lite, full …; the converted file is name.onnx
	from   member
	spec   func() convert.Spec
	size   int64
	sha256 string
}

// platform is the files of the inference library for one kind of machine.
type platform struct {
	system, processor string // GOOS, GOARCH
	library           string // base name of the file to load
	files             []member
}

// The environment variables that name other folders than the user's cache.
const (
	ModelsVariable  = "PLUMBSTRIDE_MODELS"
	RuntimeVariable = "PLUMBSTRIDE_RUNTIME"
)

// Networks is the package that holds the networks.
func Networks() Package {
	return Package{
		Name: "@mediapipe/pose", Version: "0.5.1675469404", Licence: "Apache-2.0",
		File: "mediapipe-pose-0.5.1675469404.tgz", Size: 40985403,
		SHA256: "8bb349a7b3a3ba699df23be804ddd3b3eab810b50b15406894be257859388a84",
	}
}

// Library is the package that holds the inference library.
func Library() Package {
	return Package{
		Name: "onnxruntime-node", Version: "1.30.0", Licence: "MIT",
		File: "onnxruntime-node-1.30.0.tgz", Size: 113507888,
		SHA256: "6e3390d6b783e7be946fad629292799da28d0b42f84856e50d2c1b0383291e75",
	}
}

// models lists the networks. A change of package convert that changes its
// bytes needs new hashes here; TestConversion prints them.
func models() []model {
	return []model{
		{
			"detector", member{"pose_solution_packed_assets.data", 2962288,
				"a63c614bef30d35947f13be361820b1e4e3bec9cfeebf4d11216a18373108e85"},
			convert.Detector, 11876753, "574cfd505f798633a83debfd5ff817bb3989b4d944ae1cc7552e1c644afe8091",
		},
		{
			"lite", member{"pose_landmark_lite.tflite", 2819824,
				"f17bfbecadb61c3be1baa8b8d851cc6619c870a87167b32848ad20db306b9d61"},
			convert.Landmarks, 5462948, "55eede0864dc47bdd61b58ffb447e4375d95e9cf22490472f47d248bcaf379af",
		},
		{
			"full", member{"pose_landmark_full.tflite", 6440512,
				"e9a5c5cb17f736fafd4c2ec1da3b3d331d6edbe8a0d32395855aeb2cdfd64b9f"},
			convert.Landmarks, 12688658, "05a10ad8033d62ed963f144cfb0be3edf5fb1d72a64fe31639de891f2dda8a6a",
		},
		{
			"heavy", member{"pose_landmark_heavy.tflite", 27709200,
				"59e42d71bcd44cbdbabc419f0ff76686595fd265419566bd4009ef703ea8e1fe"},
			convert.Landmarks, 55037225, "1cadd2da6650bf86433c632b02647ae534c336181f4d0929f993e6ac78dbd6bd",
		},
	}
}

// platforms lists the machines for which the runtime package has a library.
// The one for Windows needs its neighbour, loaded when it starts.
func platforms() []platform {
	return []platform{
		{"linux", "amd64", "libonnxruntime.so.1", []member{
			{"bin/napi-v6/linux/x64/libonnxruntime.so.1", 45828512,
				"ffb75a925ba05e47b235bb66e3e3911714a80b328a9c9425539feb204aa32a23"}}},
		{"linux", "arm64", "libonnxruntime.so.1", []member{
			{"bin/napi-v6/linux/arm64/libonnxruntime.so.1", 25135496,
				"1f549d46250b005580b597f4164984aaf75b3bcb9f3aeb07c7f8a8fe60b23c76"}}},
		{"darwin", "arm64", "libonnxruntime.1.dylib", []member{
			{"bin/napi-v6/darwin/arm64/libonnxruntime.1.dylib", 44589928,
				"685d2be5dba1309c89d3a5324b7fd06a5c42f1a61bfea32d14c4cc28d072121d"}}},
		{"windows", "amd64", "onnxruntime.dll", []member{
			{"bin/napi-v6/win32/x64/onnxruntime.dll", 28754232,
				"508c362f5673483dd3a086379c392795b2e42d10d5e6f3f90ebd7ac21c97af67"},
			{"bin/napi-v6/win32/x64/DirectML.dll", 18527584,
				"234e8898778cdec88d3cb0539508273494082812c968699f3de665a018971625"}}},
		{"windows", "arm64", "onnxruntime.dll", []member{
			{"bin/napi-v6/win32/arm64/onnxruntime.dll", 29815136,
				"6c3a2abf5c6aca11c48a0d338a91af309f2266f25ce2e4084e6a87bbcb0fbfd0"},
			{"bin/napi-v6/win32/arm64/DirectML.dll", 18444600,
				"aaf72a9d55aa123e0708d957d30dd4fbeb7a2e335ec6257ed5ff4261a402b9ee"}}},
	}
}

// platformOf gives the entry of this kind of machine.
func platformOf(system, processor string) (platform, bool) {
	for _, p := range platforms() {
		if p.system == system && p.processor == processor {
			return p, true
		}
	}
	return platform{}, false
}
