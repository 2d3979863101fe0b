// A hub that speaks MQTT 5 through the npm package `mqtt`: JSON lines on standard input are
// published in their order, each acknowledgement is a line on standard output.
//   {"topic": "...", "payload": "...", "qos": 1, "retain": false}
// It connects again by itself and sends again what was not acknowledged; at the end of its input
// it waits for the last acknowledgements and leaves.

import { connect } from "mqtt";
import { createInterface } from "node:readline";

const [, , port, username, password] = process.argv;
const client = connect({
  host: "127.0.0.1",
  port: Number(port),
  protocolVersion: 5,
  clientId: `hub-${process.pid}`,
  clean: false,
  properties: { sessionExpiryInterval: 3600 },
  reconnectPeriod: 50,
  username,
  password,
});
client.on("error", (error) => process.stderr.write(`${error.message}\n`));

// One after another, so that they stay in their order. The client fails what it was given while it
// sent older messages again and was cut off: whatever is not the broker's own refusal is tried anew.
const publish = async ({ topic, payload, qos = 1, retain = false }) => {
  for (;;) {
    const error = await new Promise((resolve) =>
      client.publish(topic, payload, { qos, retain }, resolve),
    );
    if (!error || error.code >= 0x80) return error?.message;
  }
};

let acknowledged = 0;
for await (const line of createInterface({ input: process.stdin })) {
  const error = await publish(JSON.parse(line));
  acknowledged += 1;
  process.stdout.write(`${JSON.stringify({ acknowledged, error })}\n`);
}
client.end();
