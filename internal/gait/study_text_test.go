package gait

const eventsText = `# Contact and toe-off against the force plate

Written by ` + "`make studies`" + `. The data: one runner on a treadmill at 2.5 m/s, markers at 150 Hz, vertical force over 50 N as the truth, 77 contacts in 30 s (Fukuchi, Fukuchi & Duarte 2017, PeerJ 5:e3298, doi 10.7717/peerj.3298, CC-BY 4.0). He lands on the forefoot. The markers were projected to a plane at 400 pixels a metre, brought to other frame rates by cubics, and every point got noise of 2 px (5 mm), as a network's.

![Error against frame rate](events-by-rate.svg)

| frames a second | contact: mean absolute error, ms | on average, ms | toe-off: mean absolute error, ms | on average, ms | events missed or extra in 5 × 30 s |
|---|---|---|---|---|---|
`

const eventsAfter = `
The error hardly depends on the frame rate, because all strides of a clip are laid over one another before an event is looked for, and each stride's own event is then found by shifting that mean stride. A single stride's event carries the spread of the steps, about 4 ms.

## How an event is found

- **Contact**: coming down, the lowest point of the sole is within 1.5 cm of where it lies in mid-stance, and the foot moves back with at least 55 % of the belt's speed.
- **Toe-off**: the mean of what foot and knee show. The foot: the point about which the sole rolls has risen. Where the toe point is a marker on the metatarsal heads it has risen by 1 cm when the force passes 50 N; a point at the tip of the shoe only then begins to rise, and its way up is traced back. The knee: it is straightest near toe-off (Fellin et al. 2010, doi 10.1016/j.jsams.2010.03.006: 5 ms on a treadmill, 40 runners); in these data 10 ms after 50 N, their force being smoothed. The knee may move the foot's time by no more than 5 ms. Points of the whole-body networks, whose feet glide, have their own correction instead (` + "`networkTiming`" + `); with the leg network's, three signs are weighed at each event and both feet are matched by the shank (decision 25).
- **Each stride**: heel, toe and ankle around the event are fitted by the mean stride moved in time, each coordinate's own offset left free, since a runner drifts on the belt by centimetres. Without that freedom the mean absolute error was 5.6 ms at contact and 10.1 ms at toe-off.

For comparison, published kinematic methods (each on its own runners): Fellin et al. 2010, foot strike 22–25 ms, toe-off 5 ms; Hreljac & Stergiou 2000, 4.5 and 6.9 ms root mean square; Handsaker et al. 2016, +3.1 ms (−11.8…+18.1) and +2.1 ms (−8.1…+12.2); Smith et al. 2015, 1.2 ± 17.1 ms at foot strike.

## Other runners

One real runner does not tell how far the events of another would lie from the force plate. Invented runners, built from other numbers, say something about the method: their contacts are found 2–5 ms early and their toe-offs within 2 ms on average for each foot strike, with 1–2 and 5–8 ms between runners, and alike on inclines of −10 to +10° (` + "`TestEventsOfEveryFootStrike`, `TestEventsOnInclines`" + `). A runner's mean contact is therefore given a standard uncertainty of 5 ms and his toe-off one of 9 ms; 4 and 7 ms by the leg network's points.

The invented runner was made more like the real one for this: his shoe leaves the belt as slowly as the real tip does (1, 3 and 8 mm after 10, 20 and 40 ms; before, three times as fast), his knee is straightest 10–15 ms after toe-off, and his foot still moves forward on the belt by half the belt's speed when it lands.

What is missing: a second recording with a force plate; runners who land on the heel; more than 2.5 m/s.
`

const smoothingText = `# Smoothing

Written by ` + "`make studies`" + `, on the markers of a real runner (Fukuchi et al. 2017, as in [events](events.md)).

Three smoothers were compared: a zero-lag Butterworth low-pass (second order, both ways, corrected for two passes; checked against the published correction and against SciPy's stored output in ` + "`internal/signal`" + `); the smoother in use, a Kalman filter with Rauch–Tung–Striebel pass for white jerk, which takes missing points, uneven frame times and each point's confidence as they come; and the same smoother across the landing: at contact the motion may break, so that either side is smoothed for itself.

## Cut-offs by residual analysis

Residual analysis (Winter, Biomechanics and Motor Control of Human Movement; Wells & Winter 1980): what a filter takes away, against its cut-off, is a straight line where it is noise alone; carried on to 0 Hz this is the noise's size, and the cut-off at which the filter takes away as much is chosen. The likelihood (` + "`signal.LikelyCutoff`" + `) asks the same of the smoother: at which cut-off does it foretell each sample best from those before?

`

const meanStrideText = `
## On the strides laid over one another

Markers of the same run at 60 frames a second with a network's noise, laid over one another as in a check, against the mean stride of the clean markers. Error of the mean path, mm root mean square: over the whole stride / within 30 ms of contact.

| point | noise, px | strides | at the usual cut-off | at the likeliest | as used |
|---|---|---|---|---|---|
`

const smoothingAfter = `
## What was kept, and what the study says against it

- At a like cut-off the smoother and the Butterworth filter do the same to within 0.3 mm. The smoother also takes gaps, uneven frame times and doubtful points, so it stays; the Butterworth filter serves the accelerometer, whose samples are even and whole.
- On this runner, who lands softly on the forefoot, smoothing across the landing matters only at low cut-offs (toe at 6 Hz: 3.5 instead of 5 mm near contacts) and costs up to 0.2 mm elsewhere. On invented runners, whose feet stop at once, it takes 1.5° off the bias of the knee at contact and 0.9° off that of the shank (from +2.7 to +1.2° and from −1.1 to −0.3° over 300 clips). A real heel striker lies between the two. The strides laid over one another are smoothed this way once the contact is known.
- The residuals and the likelihood agree to 1 to 3 Hz: the highest frequency that still is motion lies between 5 Hz (4 px of noise) and 14 Hz (0.4 px) for every point.
- A single noisy track would do with 5–8 Hz where 9 to 15 Hz are used. Single tracks only find the stride, the facing, the level and the spread between strides. With the likeliest cut-off for each (4 to 25 Hz), in a trial with the leg network before the present one (no command repeats it) contact time on the rendered clips came to 15.9 instead of 16.4 ms root mean square, but the foot strike angle to 2.9 instead of 2.6° and the knee at contact to 1.8 instead of 1.6°; invented runners' measures stayed within 3 %. The cut-offs stay.
- On the strides laid over one another the likelihood chooses, for each clip, for the points that don't land: hip, shoulder, head, elbow and wrist, between 0.75 and 1.25 times the usual. On ten rendered clips and six clips of invented runners it came to 14 Hz on average for the hip, 15 for the shoulder, 12 to 13 for the head and 19 to 21 for elbow and wrist, against the usual 14, 14, 14 and 18: the usual is right on average, and the clip's own is a little better where there is more noise (hip, above).
- For knee, ankle, heel and toe the usual cut-offs stay. The likeliest (17, 16, 15 and 15 Hz on those clips) counts every part of the stride alike; within 30 ms of contact it errs up to twice as much (above). Contact and toe-off against the force plate hardly depend on it (mean errors within 0.4 ms, 3.2 and 3.7 ms absolute, either way), but on seven invented runners' clips the knee at contact came to 4.2 instead of 2.1° and the shank to 2.6 instead of 1.2° without bounds, and to 3.0 and 1.7° within 0.75 to 1.25 times the usual. Up to 1.25 times the usual in that trial the foot strike angle of the rendered clips came to 2.9 instead of 2.6°.
`
