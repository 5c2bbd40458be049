"""Thread and bearing to torque per clamp force and clamp force per degree, for the joints of a synthetic
shift.

Written apart from `analysis.joint` on purpose: traces made by one piece of code and judged by another can
disagree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

#: Young's modulus of bolt steel, N/mm2 (VDI 2230).
_STEEL_N_PER_MM2 = 205_000.0


@dataclass(frozen=True)
class Fastener:
    """A metric bolt or nut on its bearing face."""

    diameter_mm: float
    pitch_mm: float
    #: Outer diameter of the bearing face and the clearance hole.
    bearing_mm: float
    hole_mm: float

    @property
    def lead_nm_per_kn(self) -> float:
        """P / (2 pi): the torque that lifts along the pitch (MIL-HDBK-60 100.5)."""
        return self.pitch_mm / (2.0 * math.pi)

    def friction_nm_per_kn(self, mu_thread: float, mu_bearing: float) -> float:
        """mu_th d2 / (2 cos 30) + mu_b D_Km / 2 (MIL-HDBK-60 100.5).

        Examples
        --------
        M12x1.75, mu 0.10 and 0.14, D_Km 15.065: 15.680 + 26.364 N·m at 25 kN.

        >>> round(25.0 * Fastener(12.0, 1.75, 16.63, 13.5).friction_nm_per_kn(0.10, 0.14), 2)
        42.04
        """
        pitch_diameter = self.diameter_mm - 0.649519 * self.pitch_mm
        thread = mu_thread * pitch_diameter / (2.0 * math.cos(math.radians(30.0)))
        return thread + mu_bearing * (self.bearing_mm + self.hole_mm) / 4.0

    def on_inclined_plane(self, mu_thread: float, mu_bearing: float) -> tuple[float, float]:
        """Lead and friction share of T/F with the helix angle taken as it is, not as small, N·m per kN.

        Tightening takes friction plus lead, loosening friction less lead:
        (d2/2) tan(rho +- phi) + mu_b D_Km/2.

        Examples
        --------
        >>> [round(share, 4) for share in Fastener(10.0, 1.5, 14.63, 11.0).on_inclined_plane(0.12, 0.12)]
        [0.2433, 1.396]
        """
        pitch_diameter = self.diameter_mm - 0.649519 * self.pitch_mm
        rho = math.atan(mu_thread / math.cos(math.radians(30.0)))
        phi = math.atan(self.pitch_mm / (math.pi * pitch_diameter))
        bearing = mu_bearing * (self.bearing_mm + self.hole_mm) / 4.0
        on, off = (pitch_diameter / 2.0 * math.tan(rho + sign * phi) + bearing for sign in (1.0, -1.0))
        return (on - off) / 2.0, (on + off) / 2.0

    def total_friction(self, lever_nm_per_kn: float) -> float:
        """The one coefficient for thread and bearing face with which a torque per clamp force goes."""
        return (lever_nm_per_kn - self.lead_nm_per_kn) / self.friction_nm_per_kn(1.0, 1.0)

    def yield_force_kn(self, yield_mpa: float, mu_thread: float) -> float:
        """Clamp force at which tension and torsion together reach the yield strength (VDI 2230)."""
        pitch_diameter = self.diameter_mm - 0.649519 * self.pitch_mm
        stress_diameter = self.diameter_mm - 0.938194 * self.pitch_mm
        shear = 1.5 * pitch_diameter / stress_diameter
        shear *= self.pitch_mm / (math.pi * pitch_diameter) + 1.155 * mu_thread
        area = math.pi / 4.0 * stress_diameter**2
        return yield_mpa * area / math.sqrt(1.0 + 3.0 * shear**2) / 1000.0

    def clamp_kn_per_deg(self, clamp_length_mm: float, parts_diameter_mm: float, parts_gpa: float) -> float:
        """P / (360 (delta_S + delta_P)) of a fully threaded through bolt with nut (VDI 2230).

        Examples
        --------
        >>> round(Fastener(10.0, 1.5, 14.63, 11.0).clamp_kn_per_deg(30.0, 40.0, 205.0), 3)
        0.931
        """
        nominal = math.pi / 4.0 * self.diameter_mm**2
        root = math.pi / 4.0 * (self.diameter_mm - 1.226869 * self.pitch_mm) ** 2
        bolt = (0.9 * self.diameter_mm / nominal + (clamp_length_mm + 0.5 * self.diameter_mm) / root) / (
            _STEEL_N_PER_MM2
        )
        parts = self._parts_compliance(clamp_length_mm, parts_diameter_mm, parts_gpa * 1000.0)
        return self.pitch_mm / (360.0 * (bolt + parts)) / 1000.0

    def _parts_compliance(self, length_mm: float, parts_mm: float, modulus: float) -> float:
        """mm/N of a cone that spreads within the parts, w = 1 (VDI 2230)."""
        d_w, d_h = self.bearing_mm, self.hole_mm
        tangent = 0.362 + 0.032 * math.log(length_mm / d_w / 2.0) + 0.153 * math.log(parts_mm / d_w)
        widest = d_w + length_mm * tangent
        if widest > parts_mm:
            raise ValueError(f"parts of {parts_mm} mm are narrower than the cone of {widest:.1f} mm")
        ratio = (d_w + d_h) * (widest - d_h) / ((d_w - d_h) * (widest + d_h))
        return 2.0 * math.log(ratio) / (modulus * math.pi * d_h * tangent)
