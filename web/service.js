// Putting kinwire into service: how this one stands, and the steps with their commands.

import * as api from './api.js';
import { byId, el, put, table } from './dom.js';
import { frame, trouble } from './frame.js';
import { readFigures, standing } from './standing.js';
import { learnArea, locale, t } from './words.js';

const EVERY = 10000; /* ms */

/* Each step's words are step.NAME and step.NAME.what; its commands and files are the same in every language. */
const STEPS = [
  {
    name: 'install',
    code: [
      `meson setup build --prefix=/usr --buildtype=release -Dtests=false
ninja -C build && meson install -C build
systemd-sysusers && systemd-tmpfiles --create && systemctl daemon-reload`,
    ],
  },
  {
    name: 'network',
    code: [
      `# /etc/default/kinwire
KINWIRE_OPTIONS=--listen 0.0.0.0:8443 --host ledger.mill.example --cert /etc/kinwire/cert.pem --key /etc/kinwire/key.pem`,
      `chgrp kinwire /etc/kinwire/key.pem && chmod 640 /etc/kinwire/key.pem
systemctl edit kinwire          # [Service] IPAddressAllow=192.168.10.0/24
systemctl enable --now kinwire
systemctl reload kinwire        # once the certificate was renewed`,
    ],
  },
  {
    name: 'proxy',
    code: [
      `# /etc/default/kinwire
KINWIRE_OPTIONS=--behind-proxy ledger.mill.example`,
      `# nginx
limit_conn_zone $binary_remote_addr zone=ledger:1m;
server {
    listen 443 ssl;
    server_name ledger.mill.example;
    ssl_certificate     /etc/ssl/ledger.pem;
    ssl_certificate_key /etc/ssl/private/ledger.key;
    ssl_protocols       TLSv1.2 TLSv1.3;
    client_max_body_size 64m;
    limit_conn ledger 32;
    location / {
        proxy_pass http://127.0.0.1:8420;
        proxy_http_version 1.1;
        proxy_set_header Host $http_host;
        proxy_set_header Connection "";
        proxy_buffering off;
        proxy_read_timeout 300s;
    }
}`,
      `# haproxy
frontend ledger
    mode http
    bind :443 ssl crt /etc/haproxy/ledger.pem ssl-min-ver TLSv1.2
    timeout client 60s
    default_backend kinwire
backend kinwire
    mode http
    timeout connect 5s
    timeout server 300s
    option httpchk GET /healthz
    http-check send hdr Host ledger.mill.example
    server mill 127.0.0.1:8420 check`,
    ],
  },
  {
    name: 'first',
    code: [
      `sudo -u kinwire kinwire admin-init --ledger /var/lib/kinwire/mill.kw --person A.LEDGER --name "A. Ledger"`,
    ],
  },
  { name: 'terminals', code: [] },
  {
    name: 'backup',
    code: [
      `systemctl enable --now kinwire-backup.timer
ls /var/backups/kinwire
cp -p /var/lib/kinwire/mill.kw.pepper /media/safe/     # once, by hand`,
    ],
  },
  {
    name: 'drill',
    code: [
      `kinwire restore --from /var/backups/kinwire/mill-20260301T120000Z.kw --ledger /var/tmp/drill.kw
kinwire verify --ledger /var/tmp/drill.kw --head SIZE:ROOT
kinwire serve --ledger /var/tmp/drill.kw --listen 127.0.0.1:8499 --open`,
    ],
  },
  {
    name: 'follower',
    code: [
      `kinwire token --ledger /var/lib/kinwire/mill.kw --role auditor --name FOLLOWER     # on the first machine
kinwire follow --ledger copy.kw --token-file token --heads heads.txt https://ledger.mill.example:8443     # on the other`,
    ],
  },
  { name: 'retention', code: [`find /var/backups/kinwire -name 'mill-*' -mtime +30 -delete`] },
  {
    name: 'upgrade',
    code: [
      `systemctl start kinwire-backup
systemctl stop kinwire && meson install -C build && systemctl start kinwire
sudo -u kinwire kinwire verify --ledger /var/lib/kinwire/mill.kw`,
    ],
  },
  {
    name: 'alarms',
    code: [
      `kinwire_writer_failed > 0
kinwire_read_only > 0
kinwire_disk_free_bytes < 4 * kinwire_disk_floor_bytes
rate(kinwire_commit_seconds_sum[5m]) / rate(kinwire_commit_seconds_count[5m]) > 0.1
kinwire_commit_seconds_waiting > 5
kinwire_queue > 100
kinwire_log_bytes > 67108864
kinwire_certificate_seconds_left < 1209600
increase(kinwire_sign_ins_total{outcome="locked"}[1h]) > 0`,
    ],
  },
];

/* --- how it stands ------------------------------------------------------------------------------ */

const number = new Intl.NumberFormat(locale, { maximumSignificantDigits: 3 });

/* Values are figures to read, not to reckon with. */
function said({ name, values }) {
  const shown = {};
  for (const [key, value] of Object.entries(values)) shown[key] = typeof value === 'number' ? number.format(value) : value;
  return t(`standing.${name}.${values.key}`, shown);
}

function draw(rows) {
  put(
    byId('standing'),
    table(
      [t('standing.about'), t('standing.state'), t('standing.now')],
      rows.map((row) => [
        t(`standing.${row.name}`),
        el('span', { class: `stands ${row.state}`, 'data-state': row.name }, t(`state.${row.state}`)),
        said(row),
      ]),
    ),
  );
}

async function look() {
  try {
    const [text, who] = await Promise.all([api.getText('/metrics', {}, 'text/plain'), api.me()]);
    draw(standing(readFigures(text), who, location.protocol === 'https:'));
  } catch (problem) {
    trouble(byId('standing'), problem);
  }
}

/* --- the steps ---------------------------------------------------------------------------------- */

/* What to type: it scrolls sideways on a narrow page, so that it can be reached by the keyboard. */
const code = (text, name) => el('pre', { tabindex: '0', 'aria-label': t('step.code', { step: t(`step.${name}`) }) }, text);

function steps() {
  put(
    byId('list'),
    STEPS.map(({ name }) => el('li', null, el('a', { href: `#${name}` }, t(`step.${name}`)))),
  );
  put(
    byId('steps'),
    STEPS.map((step, n) =>
      el(
        'section',
        { class: 'sheet', id: step.name, 'aria-labelledby': `${step.name}-title` },
        el('h2', { id: `${step.name}-title` }, `${n + 1}. ${t(`step.${step.name}`)}`),
        t(`step.${step.name}.what`)
          .split('\n')
          .map((text) => el('p', null, text)),
        step.code.map((text) => code(text, step.name)),
      ),
    ),
  );
}

await learnArea('service');
frame('service');
steps();
await look();
setInterval(look, EVERY);
