[Version] 2.0
# MHz S RI R 50
[Number of Ports] 2
[Network Data]
1 0.1 0 0.8 -0.5 0.8 -0.5 0.1 0
[End]
