// node say.mjs FOLDER ENGINE VOICE PACE PITCH TEXT OUT.wav: say a text with an engine installed by npm in FOLDER.
import { writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { pathToFileURL } from 'node:url'

const [folder, engine, voice, pace, pitch, text, out] = process.argv.slice(2)
const require = createRequire(`${folder}/`)

if (engine === 'gnuspeech') {
  const { synthesize } = await import(pathToFileURL(require.resolve('@echogarden/gnuspeech-wasm')))
  writeFileSync(out, (await synthesize(text, { voice, tempo: Number(pace), controlRate: 250 })).audioData)
} else if (engine === 'mespeak') {
  const speaker = require('mespeak')
  const [dialect, variant] = voice.split('+')
  speaker.loadConfig(require('mespeak/src/mespeak_config.json'))
  speaker.loadVoice(require(`mespeak/voices/en/${dialect}.json`))
  const options = { rawdata: 'buffer', speed: 160 * pace, pitch: 50 * pitch, variant: variant ?? '' }
  writeFileSync(out, speaker.speak(text, options))
} else if (engine === 'sam') {
  const [speed, tone, mouth, throat] = voice.split('/').map(Number)
  const Sam = require('sam-js')
  const sam = new Sam({ speed: Math.round(speed / pace), pitch: Math.round(tone / pitch), mouth, throat })
  writeFileSync(out, sam.wav(text))
} else {
  throw new Error(`no engine is called ${engine}`)
}
process.exit(0)
