// A small hub: it tells a room what happens, carries out orders, and tells everything when asked.
//     node hub.mjs BROKER ROOM EVENING [AUTHORITY]
//
// It is written from `adapters/contract/README.md` alone. Its devices are pretended. EVENING is a
// JSON file: what happens, and how the room shall stand before that. It prints what it does.

import { connect } from "mqtt";
import { randomUUID } from "node:crypto";
import { readFileSync } from "node:fs";

const TRAVEL = 300; // milliseconds that the pretended lens takes
const READINGS = ["bars", "black", "ratio", "format"];
// What is told when everything is told, in this order; of panels, without a sensor, people tell.
const STATES = ["projector", "service", "source", "signal", "playback", "title", "lens", "told/"];

const [, , address, room, file, authority] = process.argv;
const broker = new URL(address);
const into = `roomcue/${room}/in`;
const out = `roomcue/${room}/out`;
const replies = `replies/hub-${randomUUID()}`;
const show = (what) => process.stdout.write(`${JSON.stringify(what)}\n`);

// The client connects again by itself, and sends again what was not acknowledged.
const client = connect({
  protocol: broker.protocol.replace(":", ""),
  host: broker.hostname,
  port: Number(broker.port || 1883),
  ca: authority && readFileSync(authority),
  protocolVersion: 5,
  clientId: `hub-of-${room}`,
  clean: false,
  properties: { sessionExpiryInterval: 600 },
  reconnectPeriod: 1000,
  resubscribe: false, // it subscribes by itself, each time
  username: decodeURIComponent(broker.username) || undefined,
  password: decodeURIComponent(broker.password) || undefined,
});
client.on("error", (error) => show({ error: error.message }));

// ------------------------------------------------------------------------------ what it tells

const facts = new Map(); // what was told last, of readings the latest

// Publishes with a new id; a reading is worth nothing after 5 seconds.
const publish = (kind, body, properties = {}) => {
  const reading = READINGS.includes(kind);
  const named = JSON.stringify({ contract: 1, id: `hub-${randomUUID()}`, ...body });
  client.publish(`${into}/${kind}`, named, {
    qos: reading ? 0 : 1,
    properties: reading ? { messageExpiryInterval: 5 } : properties,
  });
};

// Says how something is, since now; keeps it for when everything is to be told.
const tell = (kind, what) => {
  const body = { ...what, at: new Date().toISOString() };
  facts.set(READINGS.includes(kind) ? "reading" : kind, [kind, body]);
  if (client.connected) publish(kind, body); // else it is told with everything
  // A change of source undoes the reading.
  if (kind === "source" && facts.has("reading")) tell(...facts.get("reading"));
};

// Tells it anew, with the moments since when it is so.
const tellEverything = (why) => {
  for (const first of [...STATES, "reading"]) {
    for (const [name, fact] of facts) if (name.startsWith(first)) publish(...fact);
  }
  show({ told_everything: why });
};

// It does not compare `standing` with what it has told.
setInterval(() => client.connected && tellEverything("ten minutes"), 600_000).unref();

const waiting = []; // for a response

// Asks how everything stands; resolves once the response has come.
const askState = () => {
  publish("state", {}, { responseTopic: replies });
  return new Promise((resolve) => waiting.push(resolve));
};

// ------------------------------------------------------------------------------ what it hears

const ends = new Map(); // until when each order that came may be begun
let alive; // since when, and how long it holds
let standing = {};
let onNews = () => {};

const obey = ({ id, kind, preset }) => {
  show({ order: id, kind });
  if (kind === "recall") {
    // The report of the arrival is its outcome.
    tell("lens", { moving: true, preset });
    setTimeout(() => tell("lens", { moving: false, preset }), TRAVEL);
  } else if (kind === "picture" || kind === "cue") {
    publish("outcome", { order: id, outcome: "done" });
  }
};

client.on("message", (topic, payload, { properties }) => {
  const data = JSON.parse(payload.toString());
  const leaf = topic.slice(out.length + 1);
  const now = performance.now() / 1000; // seconds, by a clock that nobody sets
  if (topic === replies) {
    show({ state: data });
    for (const resolve of waiting.splice(0)) resolve();
  } else if (leaf === "order" && data.kind !== "withdrawn" && !ends.has(data.id)) {
    // Each order begins at once here: there is none that a withdrawal would stop.
    for (const [id, end] of ends) if (end < now) ends.delete(id);
    const left = Math.min(data.ends_in, properties?.messageExpiryInterval ?? Infinity);
    ends.set(data.id, now + left);
    if (left > 0) obey(data);
  } else if (leaf === "ask" && data.kind === "question") {
    tellEverything("question");
  } else if (leaf === "alive") {
    // The first after connecting asks for nothing: everything has just been told.
    const [since, holds] = alive ?? [data.since, now];
    alive = [data.since, now + (data.holds_for ?? 0)];
    if (data.alive && (since !== data.since || holds < now)) tellEverything("alive");
  } else if (leaf === "standing") {
    standing = data;
    onNews();
  }
});

// ------------------------------------------------------------------------------- the evening

const fits = (wanted, found) =>
  wanted !== null && typeof wanted === "object"
    ? Object.keys(wanted).every((key) => fits(wanted[key], found?.[key]))
    : wanted === found;

const topics = ["order", "ask", "standing", "alive"].map((leaf) => `${out}/${leaf}`);
const asked = new Promise((resolve) =>
  client.on("connect", () => {
    alive = undefined;
    client.subscribe([replies, ...topics], { qos: 1 });
    tellEverything("connected");
    askState().then(resolve);
  }),
);
await asked;
for (const step of JSON.parse(readFileSync(file, "utf8"))) {
  for (const [kind, what] of Object.entries(step.tell)) tell(kind, what);
  while (!fits(step.until, standing)) await new Promise((resolve) => (onNews = resolve));
  show({ stands: step.until });
}
await askState();
await client.endAsync();
