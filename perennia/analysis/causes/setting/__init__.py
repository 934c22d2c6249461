"""Did flowers set, and what pattern do the failures follow: truss, position, date, load?"""

from perennia.analysis.causes.setting.patterns import SettingPatterns, setting_patterns
from perennia.analysis.causes.setting.pod_set import PodSet, pod_set

__all__ = ["PodSet", "SettingPatterns", "pod_set", "setting_patterns"]
