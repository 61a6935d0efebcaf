/** The look of the book's pages: light and dark, fit to print. */
export const PAGE_STYLE = `
:root{color-scheme:light dark;--paper:#f7f5f0;--sheet:#fffefb;--ink:#1b2733;--quiet:#54616e;--rule:#d4d0c5;--met:#17643a;--broken:#a3212f;--undecided:#6b5300}
@media(prefers-color-scheme:dark){:root{--paper:#0f1a26;--sheet:#15232f;--ink:#e7edf3;--quiet:#a3b2c0;--rule:#2c4052;--met:#84d6a4;--broken:#ff9aa2;--undecided:#ecd27b}}
*{box-sizing:border-box}body{margin:0;background:var(--paper);color:var(--ink);font:15px/1.5 system-ui,"DejaVu Sans",sans-serif}
main{max-width:64rem;margin:0 auto;padding:1.5rem}h1{font-size:1.6rem;margin:0 0 .4rem}h2{font-size:1.2rem;margin:2rem 0 .5rem}h3{font-size:1rem;margin:1.2rem 0 .3rem}
.headline{font-weight:600;padding:.6rem .9rem;border-left:.5rem solid;background:var(--sheet)}.care{padding:.6rem .9rem;border:2px solid var(--broken);background:var(--sheet)}
.forbids,.stop{padding:.4rem .9rem;border:4px solid var(--broken);background:var(--sheet);margin:.8rem 0}.unknown{padding:.2rem .9rem;border-left:.5rem solid var(--undecided);margin:.8rem 0}.met{color:var(--met)}.broken{color:var(--broken)}.undecided{color:var(--undecided)}.none{color:var(--quiet)}
.wide{overflow-x:auto}table{border-collapse:collapse;width:100%;background:var(--sheet)}caption{text-align:left;color:var(--quiet);padding:0 0 .4rem}
th,td{text-align:left;vertical-align:top;padding:.3rem .6rem;border-bottom:1px solid var(--rule);overflow-wrap:break-word}td code{overflow-wrap:anywhere}thead th{border-bottom:2px solid var(--rule)}
td.n,th.n{text-align:right}dl{display:grid;grid-template-columns:max-content 1fr;gap:.15rem .9rem}dt{color:var(--quiet)}dd{margin:0;overflow-wrap:anywhere}
.step{border:1px solid var(--rule);background:var(--sheet);padding:.2rem 1rem .8rem;margin:0 0 1rem}.blank{display:inline-block;min-width:9rem;border-bottom:1px solid currentColor}
figure{margin:1rem 0}figcaption{color:var(--quiet)}figure svg,figure img{max-width:100%;height:auto}figure .wide svg{max-width:none}@media screen and (max-width:48rem){figure .wide img{min-width:40rem}}li,p{overflow-wrap:anywhere}a{color:inherit}code{font-family:ui-monospace,"DejaVu Sans Mono",monospace}
nav ul{columns:2}@media(min-width:48rem){.can ul{columns:2}}small{color:var(--quiet)}:focus-visible{outline:2px solid currentColor;outline-offset:2px}
@media print{:root{--paper:#fff;--sheet:#fff;--ink:#000;--quiet:#333;--rule:#999;--met:#0b4a27;--broken:#7d0f1c;--undecided:#4a3a00}body{font-size:10.5px}main{max-width:none;padding:0}.wide{overflow:visible}figure .wide svg{max-width:100%}tr,li,.step,figure{break-inside:avoid}h2,h3{break-after:avoid}caption{break-inside:avoid;break-after:avoid}.short table{break-inside:avoid}thead{display:table-header-group;break-after:avoid}tbody tr:first-child{break-before:avoid;break-after:avoid}nav{display:none}.can ul{columns:2}.before{break-after:avoid}@page{size:A4;margin:14mm}@page sheet{size:A4 landscape;margin:12mm}section[aria-labelledby=diagram]{page:sheet}section[aria-labelledby=diagram] h2{margin:0}section[aria-labelledby=diagram] p{margin:.2rem 0}.sheet{margin:0}figure.sheet .wide svg{max-width:none}}
`
