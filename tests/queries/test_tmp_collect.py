from __future__ import annotations
import os
from collections import Counter
from hypothesis import HealthCheck, Phase, given, settings
from perennia.queries import catalogue
from tests.lives import gardens
from tests.oracle.differences import _by_key, _same, first_difference
from tests.oracle.summary import views
from tests.queries.built_views import built, rows_of, with_ids

C = Counter(); EX = {}; N=[0]; ROWS=Counter(); STATS=Counter()

@settings(max_examples=int(os.environ.get("N", "60")), phases=[Phase.generate], suppress_health_check=list(HealthCheck))
@given(gardens())
def run(records):
    N[0]+=1
    book = with_ids(records)
    try:
        with built(book) as connection:
            found = {name: rows_of(connection, name) for name in catalogue.shown()}
        expected = views(book)
    except Exception as e:
        C[type(e).__name__, str(e)[:200]] += 1
        return
    for name, q in catalogue.shown().items():
        ROWS[name]+=len(found[name])
        a, b = _by_key(found[name], q.grain), _by_key(expected[name], q.grain)
        if len(a)!=len(found[name]): C[name,'repeat']+=1
        for k in set(a)^set(b): C[name, 'only view' if k in a else 'only oracle']+=1; EX.setdefault((name,'rows'), (k, k in a))
        for k in set(a)&set(b):
            if set(a[k])!=set(b[k]): C[name,str(set(a[k])^set(b[k]))]+=1; continue
            for c in a[k]:
                if not _same(a[k][c], b[k][c]):
                    C[name,c]+=1
                    if (name,c) not in EX: EX[name,c]=(k,a[k][c],b[k][c], [r for r in records if k[0] and getattr(r,'label',None)==str(k[0]).split('/')[0] or k[0] and str(k[0]).split('/')[0] in (getattr(r,'labels',None) or ())] if os.environ.get('V') else '')
    for r in found['season_summary']:
        for c in ('t50','peak_on','g_per_m2','withheld','moved'):
            if r[c]: STATS[c]+=1
        if r['sharing']>1: STATS['sharing']+=1
        STATS['w:'+str(r['wintering'])]+=1
        STATS['stock:'+str(r['stock'])]+=1
        if r['total_g']==0: STATS['zero']+=1
    for r in found['harvest']:
        if r['plant']:
            p=[x for x in found['plants'] if x['plant']==r['plant']][0]
            from tests.oracle.book import season_of
            if season_of(r['on'],p['season_starts'])!=r['season']: STATS['carried']+=1

def test_x():
    run()
    print(N, dict(ROWS)); print(dict(STATS))
    for k,v in C.most_common(): print(k,v, EX.get(k))
