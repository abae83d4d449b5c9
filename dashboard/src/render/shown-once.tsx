import { useState } from 'preact/hooks';
import { useApp } from './app-context.js';

/** A secret or a link that the server cannot show again, with a press that copies it. */
export function ShownOnce({
  label,
  text,
  hint,
}: {
  readonly label: string;
  readonly text: string;
  readonly hint?: string;
}) {
  const { voice } = useApp();
  const [copied, setCopied] = useState<'yes' | 'no' | null>(null);
  const copy = async (): Promise<void> => {
    try {
      await navigator.clipboard.writeText(text);
      setCopied('yes');
    } catch (fault) {
      console.warn('the browser lets nothing be copied', fault);
      setCopied('no');
    }
  };
  return (
    <div class="shown-once" role="status">
      <p class="label">{label}</p>
      <p class="shown-once-text">{text}</p>
      {hint === undefined ? null : <p class="small">{hint}</p>}
      <button type="button" class="press" onClick={() => void copy()}>
        {voice.say('once.copy')}
      </button>
      {copied === null ? null : <p class="small">{voice.say(copied === 'yes' ? 'once.copied' : 'once.not_copied')}</p>}
    </div>
  );
}
