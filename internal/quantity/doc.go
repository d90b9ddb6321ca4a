// Package quantity takes quantities as a coach writes them ("172cm",
// "5ft8in", "6:00/km") from the command line and the pages, gives them in SI
// units to package check, and gives SI values back as text in the coach's
// units. A number without a unit is refused wherever a unit could be meant
// differently.
package quantity
