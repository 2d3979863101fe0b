// A small hub: it tells a room what happens, carries out orders, and tells everything when asked.
//
//     node hub.mjs PORT AUTHORITY USER PASSWORD ROOM EVENING
//
// It is written from `adapters/contract/README.md` alone. Its devices are pretended: pictures and
// cues obey at once, the lens takes a moment. EVENING is a JSON file: what happens, step by step,
// and how the room shall stand before the next step. It prints what it does, a JSON object a line.

import { connect } from "mqtt";
import { randomUUID } from "node:crypto";
import { readFileSync } from "node:fs";

const TRAVEL = 300; // milliseconds that the pretended lens takes
const READINGS = ["bars", "black", "ratio", "format"];
// What is told when everything is told, in this order.
const STATES = ["projector", "source", "signal", "playback", "title", "lens", "panels", "told/"];
const EVERYTHING = [...STATES, ...READINGS];

const [, , port, authority, username, password, room, file] = process.argv;
const into = `roomcue/${room}/in`;
const out = `roomcue/${room}/out`;
const replies = `replies/hub-${randomUUID()}`;
const show = (what) => process.stdout.write(`${JSON.stringify(what)}\n`);
const sleep = (wait) => new Promise((resolve) => setTimeout(resolve, wait));
const now = () => new Date().toISOString();

const client = connect({
  protocol: "mqtts",
  host: "localhost",
  port: Number(port),
  ca: readFileSync(authority),
  protocolVersion: 5,
  clientId: `hub-of-${room}`,
  clean: false,
  properties: { sessionExpiryInterval: 600 },
  username,
  password,
});
client.on("error", (error) => process.stderr.write(`${error.message}\n`));

// ------------------------------------------------------------------------------ what it tells

const facts = new Map();
const isOneOf = (firsts, kind) => firsts.some((first) => kind.startsWith(first));

const publish = (kind, body) => {
  const named = { contract: 1, id: `hub-${randomUUID()}`, ...body };
  const retain = isOneOf(STATES, kind) && !body.moving;
  const qos = READINGS.includes(kind) ? 0 : 1;
  return client.publishAsync(`${into}/${kind}`, JSON.stringify(named), { qos, retain });
};

// Says how something is, since now; keeps it for when everything is to be told.
const tell = (kind, what) => {
  const body = { ...what, at: now() };
  if (isOneOf(EVERYTHING, kind)) facts.set(kind, body);
  return publish(kind, body);
};

// Tells it anew, with the moments since when it is so.
const tellEverything = async (why) => {
  for (const first of EVERYTHING) {
    for (const kind of [...facts.keys()].filter((one) => one.startsWith(first))) {
      await publish(kind, facts.get(kind));
    }
  }
  show({ told_everything: why });
};

const responses = new Map();

// Asks how everything stands, until a response comes.
const askState = async () => {
  for (;;) {
    const mark = randomUUID();
    const response = new Promise((resolve) => responses.set(mark, resolve));
    const properties = { responseTopic: replies, correlationData: Buffer.from(mark) };
    await client.publishAsync(`${into}/state`, "{}", { qos: 1, properties });
    const state = await Promise.race([response, sleep(20_000)]);
    if (state) return state;
    show({ no_response: true });
  }
};

// ------------------------------------------------------------------------------ what it hears

const acted = new Set();
let since;
let standing = {};
let onNews = () => {};

const obey = async ({ id, kind, preset }) => {
  show({ order: id, kind });
  if (kind === "recall") {
    // The report of the arrival is its outcome.
    await tell("lens", { moving: true, preset });
    await sleep(TRAVEL);
    await tell("lens", { moving: false, preset });
  } else {
    await publish("outcome", { order: id, outcome: "done" });
  }
};

const hear = async (topic, data) => {
  const leaf = topic.slice(out.length + 1);
  // Each order begins at once here, so there is none to be left undone when it is withdrawn.
  if (leaf === "order" && data.kind !== "withdrawn" && !acted.has(data.id)) {
    acted.add(data.id);
    await obey(data);
  } else if (leaf === "ask" && data.kind === "question") {
    await tellEverything("question");
  } else if (leaf === "alive") {
    const back = data.alive && data.since !== since;
    since = data.since;
    if (back) await tellEverything("alive");
  } else if (leaf === "standing") {
    standing = data;
    onNews();
  }
};

client.on("message", (topic, payload, { properties }) => {
  const data = JSON.parse(payload.toString());
  if (topic === replies) responses.get(properties?.correlationData?.toString())?.(data);
  else hear(topic, data);
});

// ------------------------------------------------------------------------------- the evening

const fits = (wanted, found) =>
  wanted !== null && typeof wanted === "object"
    ? Object.keys(wanted).every((key) => fits(wanted[key], found?.[key]))
    : wanted === found;

const topics = ["order", "ask", "standing", "alive"].map((leaf) => `${out}/${leaf}`);
await client.subscribeAsync([replies, ...topics], { qos: 1 });
show({ state: await askState() });
for (const step of JSON.parse(readFileSync(file, "utf8"))) {
  for (const [kind, what] of Object.entries(step.tell)) await tell(kind, what);
  while (!fits(step.until, standing)) await new Promise((resolve) => (onNews = resolve));
  show({ stands: step.until });
}
show({ state: await askState() });
await client.endAsync();
