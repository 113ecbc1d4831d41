// Reads a calendar from standard input with ical.js, and writes what a calendar program would know of
// it: its name, and of each event the id, the words, the days or instants, the state.

import { readFileSync } from "node:fs";
import ICAL from "ical.js";

const read = new ICAL.Component(ICAL.parse(readFileSync(0, "utf8")));
const when = (time) => (time.isDate ? time.toString() : time.toJSDate().toISOString());

// What is not in a standard is text by default (RFC 5545, 3.8.8.2); ical.js leaves it as it came.
const asText = (raw) => ICAL.Property.fromString(`SUMMARY:${raw}`).getFirstValue();

const events = read.getAllSubcomponents("vevent").map((component) => {
  const event = new ICAL.Event(component);
  const value = (name) => component.getFirstPropertyValue(name);
  return {
    uid: event.uid,
    sequence: event.sequence,
    summary: event.summary,
    description: event.description,
    starts: when(event.startDate),
    ends: when(event.endDate),
    state: value("status"),
    shown_as: value("class"),
    busy: value("transp") ?? "OPAQUE",
    url: value("url"),
    stamp: when(value("dtstamp")),
    changed: when(value("last-modified")),
    properties: component.getAllProperties().map((property) => property.name),
  };
});
console.log(
  JSON.stringify({
    version: read.getFirstPropertyValue("version"),
    made_by: read.getFirstPropertyValue("prodid"),
    name: read.getFirstPropertyValue("name"),
    known_as: asText(read.getFirstPropertyValue("x-wr-calname")),
    ask_again: read.getFirstPropertyValue("refresh-interval").toSeconds(),
    parts: read.getAllSubcomponents().map((component) => component.name),
    events,
  }),
);
